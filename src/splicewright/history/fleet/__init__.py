"""The whole fleet: what is due, worst first, and why."""
