"""Pages of conveyors."""
