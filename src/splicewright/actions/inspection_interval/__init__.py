"""How often to look."""
