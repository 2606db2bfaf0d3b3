"""The API, for programs."""
