"""How many kits, pins and belt pieces to hold, and what to order."""
