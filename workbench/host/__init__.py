"""The user's own side of things: folders, safe writes, and work in a child process."""
