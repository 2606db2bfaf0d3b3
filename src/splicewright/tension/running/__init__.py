"""The running belt: every load case round the loop, and what it asks."""
