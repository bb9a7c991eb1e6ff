"""Floor 1: collations and prefixes."""
