"""A second look at a solved conveyor by other published ways."""
