"""Photographs: kept and shown, taken to be measured, and what somebody takes of the measures."""
