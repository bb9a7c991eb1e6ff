"""Floor 3: the only code that writes to a card."""
