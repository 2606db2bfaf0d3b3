"""Wear: readings, limits, forecasts."""
