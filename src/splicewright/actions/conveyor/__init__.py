"""Conveyors: recorded and studied."""
