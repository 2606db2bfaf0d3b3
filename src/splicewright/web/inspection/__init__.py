"""Pages of inspections."""
