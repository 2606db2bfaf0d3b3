"""Pages of the fleet."""
