"""Benchmarks: each prints a ratio against a named reference measured in the same run."""
