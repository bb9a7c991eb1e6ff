"""Floor 1: lossless text documents."""
