"""Registers on both databases, as in the tests of the store."""

from store.conftest import (
    clock,
    migrated,
    migrated_file,
    plant,
    postgres,
    postgres_url,
    register,
    server,
    url,
)

__all__ = [
    "clock", "migrated", "migrated_file", "plant", "postgres", "postgres_url", "register", "server",
    "url",
]  # fmt: skip
