"""The present state, derived from the facts."""
