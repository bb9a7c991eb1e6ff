"""Archives on the host, read only: zip, tar (plain or packed) and folders, with limits on all they say."""
