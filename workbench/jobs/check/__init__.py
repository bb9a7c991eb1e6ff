"""The check: what is wrong with a card, or will be, and how it can be mended."""
