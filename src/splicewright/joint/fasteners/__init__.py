"""Fastener ranges: what a maker's data say of each size, typed in by the user."""
