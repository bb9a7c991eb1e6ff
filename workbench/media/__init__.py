"""Floor 1: bitmaps."""
