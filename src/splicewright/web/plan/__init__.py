"""Pages of plans."""
