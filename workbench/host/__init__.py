"""Floor 1: the user's own folders on this host."""
