"""Across the belt: load in the trough, edges and middle, transition, curves."""
