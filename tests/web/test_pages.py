"""What pages show, without a browser."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient

from splicewright.store.sql import SqlRegister
from web.test_looks import pages


@pytest.fixture
def register(told: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return told


@pytest.mark.parametrize("role", ["viewer", "admin"])
def test_every_page_opens(
    signed_in: Callable[[str], TestClient], register: SqlRegister, role: str
) -> None:
    client = signed_in(role)
    for name, path in pages(register).items():
        answer = client.get(path)
        if role == "admin":
            assert answer.status_code == (404 if name == "not-here" else 200), name
        else:
            assert answer.status_code in {200, 403, 404}, name
