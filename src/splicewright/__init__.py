"""Splicewright: the whole job of joining a bulk conveyor belt."""

__version__ = "0.1.0"
