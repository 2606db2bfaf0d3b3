"""Wear and life: lives, wear, renewal, stock and the repair window, from the records."""
