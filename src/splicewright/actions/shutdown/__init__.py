"""Shutdowns: judged, planned, joints chosen for them."""
