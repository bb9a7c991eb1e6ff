"""Unmounting a medium through the system's own means, and naming who holds it busy."""
