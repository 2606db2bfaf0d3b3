"""Sheets: the drawings and documents that a crew holds in hand. Lengths here are millimetres."""
