"""Folders of results: written whole or not at all, and read back."""
