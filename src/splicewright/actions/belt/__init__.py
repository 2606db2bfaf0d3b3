"""The belt in service."""
