"""Floor 2: reads a card, and knows nothing of why."""
