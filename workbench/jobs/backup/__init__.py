"""Backups of what a profile names: one ordinary zip, with a list that finds any flipped bit."""
