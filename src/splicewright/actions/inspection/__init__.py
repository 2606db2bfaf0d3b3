"""Inspections: assessed from a file or from taps, and recorded."""
