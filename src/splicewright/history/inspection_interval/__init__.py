"""How often to look: from the first sign to the failure."""
