"""The fleet and what is due."""
