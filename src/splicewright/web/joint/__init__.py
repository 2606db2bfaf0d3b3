"""Pages of joints."""
