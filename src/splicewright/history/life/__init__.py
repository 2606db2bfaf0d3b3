"""How long joints last: laws of life, their limits, kinds beside each other."""
