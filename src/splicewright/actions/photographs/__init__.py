"""Photographs: kept by their digest, measured, and what somebody took of the measures."""
