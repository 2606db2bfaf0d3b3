"""What is sent as a photograph, at the page and at the API: one clear sentence each."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from PIL import Image

from photographs.test_picture import encoded
from splicewright.store import Account, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from web.calling import API, Office, calling
from web.conftest import Clock, take_session

HEIC = b"\x00\x00\x00\x18ftypheic" + b"\x00" * 200
REFUSED = {
    "empty": (b"", "is empty (0 bytes)"),
    "HEIC": (HEIC, "is a HEIC photograph"),
    "cut short": (encoded()[:3000], "is cut short or damaged"),
    "16 bit": (encoded("I;16", kind="PNG"), "16 or 32 bits a colour"),
    "bomb": (encoded("1", (15_000, 15_000), "PNG"), "too many pixels"),
    "no picture": (b"no picture at all", "cannot be decoded"),
}


@pytest.fixture
def office(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock, tmp_path: Path
) -> Iterator[Office]:
    made = Office(register, accounts, clock, tmp_path / "register.sqlite")
    yield made
    made.queue.close()


@pytest.fixture
def app(office: Office) -> FastAPI:
    """The app with a desk, in place of the one without."""
    return office.app


def test_every_door_says_the_same(office: Office, people: dict[str, Account]) -> None:
    account = people["crew"].account
    headers = {
        "Sec-Fetch-Site": "same-origin", "Accept": "application/json",
        "Content-Type": "image/jpeg", "X-Account": str(account),
    }  # fmt: skip
    key = office.key(people["crew"], Scope.RECORD)
    with TestClient(office.app, follow_redirects=False) as phone, calling(office.app, key) as other:
        take_session(phone, "crew", {})
        for name, (data, said) in REFUSED.items():
            page = phone.post("/photographs", content=data, headers=headers)
            assert page.status_code == 422, name
            assert said in page.json()["error"][0]["sentence"], name
            address = f"{API}/contents/{hashlib.sha256(data).hexdigest()}"
            api = other.put(address, content=data, headers={"Content-Type": "image/png"})
            assert api.status_code == 422, name
            assert said in api.json()["faults"][0]["sentence"], name
        for colours in ("CMYK", "L"):
            kept = phone.post("/photographs", content=encoded(colours), headers=headers)
            assert kept.status_code == 200, colours
            there = phone.get(f"/photographs/{kept.json()['digest']}")
            with Image.open(BytesIO(there.content)) as shown:
                assert (shown.mode, shown.size) == ("RGB", (1600, 1200))
