"""Signing in, joining, and that pages tell who may come in."""

from __future__ import annotations

from collections.abc import Callable

from fastapi.testclient import TestClient

from splicewright.store import Account
from web.conftest import csrf_of, sign_in


def test_a_page_leads_to_the_sign_in_and_back(
    client: TestClient, people: dict[str, Account]
) -> None:
    asked = client.get("/?q=incline", headers={"accept": "text/html"})
    assert asked.status_code == 303
    assert asked.headers["location"] == "/sign-in?next=%2F%3Fq%3Dincline"
    assert client.get("/", headers={"accept": "application/json"}).status_code == 401
    done = sign_in(client, "crew")
    assert done.status_code == 303
    assert "K2 incline" in client.get("/").text


def test_wrong_password_says_neither_which(client: TestClient, people: dict[str, Account]) -> None:
    wrong = sign_in(client, "crew", "not the password")
    unknown = sign_in(client, "nobody", "not the password")
    assert wrong.status_code == unknown.status_code == 422
    assert "do not belong together" in wrong.text
    assert "do not belong together" in unknown.text


def test_signing_out_needs_the_form_of_this_session(
    signed_in: Callable[[str], TestClient],
) -> None:
    client = signed_in("viewer")
    assert client.post("/sign-out").status_code == 403
    assert client.get("/").status_code == 200
    assert client.post("/sign-out", data={"csrf": csrf_of(client)}).status_code == 303
    assert client.get("/", headers={"accept": "text/html"}).status_code == 303
