"""Wear: lines and curves through readings, and when a limit is met."""
