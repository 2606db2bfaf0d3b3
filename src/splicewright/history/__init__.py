"""How long it lasts: lives, wear, renewal, stock and the repair window, from the records."""
