"""The version, where every room can read it without loading the package's public names."""

__version__ = "0.2.0"
