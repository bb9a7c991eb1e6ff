"""Floor 5: the workbench on the screen."""
