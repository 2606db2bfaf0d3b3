"""How often to look: what looks on file say of damage, and the interval that follows."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from uuid import UUID

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page

from actions.inspection_interval.test_from_register import COSTS, recorded
from actions.recorded import NOW, Recorded
from splicewright.actions.inspection_interval.choose import when_to_look_recorded
from splicewright.actions.inspection_interval.question import FOUND
from splicewright.history.inspection_interval.worksheet import record_of_looking
from splicewright.quantities import Line, key_of, show
from splicewright.store import PersonRole
from splicewright.store.sql.register import SqlRegister
from splicewright.web.app.room import Room
from splicewright.web.routes import make_app
from web.conftest import People, enter, sign_in
from web.looking import axe, fits, picture, small_targets

Enter = Callable[[str], TestClient]
PRICED = {"look": "250", "repair": "6000", "failure": "40000"}


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past: too few failures to learn a delay from."""
    return example_register


def where(register: SqlRegister) -> str:
    incline = next(c.conveyor for c in register.conveyors() if c.name == "K2 incline")
    return f"/conveyors/{incline}/inspection-interval"


def test_too_little_on_file_is_said(signed_in: Enter, register: SqlRegister) -> None:
    client, page = signed_in("viewer"), where(register)
    assert page in client.get(page.removesuffix("/inspection-interval")).text
    assert page in client.get(page.replace("inspection-interval", "forecast")).text
    plain = client.get(page).text
    assert "Not enough data to say: 2 cases of damage on file, 1 of which failed" in plain
    assert "the mean delay needs 3 failures" in plain
    assert "or more on average, with 90 % confidence" in plain
    assert "The interval</h2>" not in plain
    priced = client.get(page, params=PRICED).text
    assert "The interval</h2>" not in priced
    assumed = client.get(page, params=PRICED | {"every": "4000 h", "delay": "600 h"}).text
    assert "From assumptions, not from inspections" in assumed
    assert "The interval</h2>" in assumed
    assert "Delay from what can be seen to the failure, assumed: 600 h" in assumed
    everywhere = client.get(page, params={"of": "all joints"}).text
    assert "3 cases of damage on file, 2 of which failed" in everywhere
    assert client.get(page, params={"of": "belts", "found": "80 %"}).status_code == 200


def test_what_cannot_be_asked_is_said(signed_in: Enter, register: SqlRegister) -> None:
    client, page = signed_in("viewer"), where(register)
    both = {"every": "4000 h", "delay": "600 h"}
    for typed, said in (
        ({"look": "250"}, "Cost of damage found in time</a>: is missing; the interval needs"),
        (PRICED | {"look": "much"}, "is no amount"),
        (PRICED | {"every": "4000 h"}, "From seen to failed</a>: is missing; give both"),
        (both, "what is assumed needs them to give an interval"),
        ({"found": "none"}, "found"),
        ({"found": "120 %"}, "accepted is above 0 % and up to 100 %"),
        (PRICED | both | {"delay": "3 kt"}, "give both in one"),
        (PRICED | {"every": "400 kt", "delay": "20 kt"}, "but what is learnt counts"),
        (PRICED | both | {"fixed": "yes", "found": "0.9"}, "goes with random delays only"),
    ):
        told = client.get(page, params=typed)
        assert told.status_code == 422, typed
        assert said in told.text, typed
    assert client.get(f"/conveyors/{UUID(int=7)}/inspection-interval").status_code == 404
    former = client.get(page.replace("inspection-interval", "looks") + "?of=belts")
    assert (former.status_code, former.headers["location"]) == (308, f"{page}?of=belts")


def test_what_was_learnt_is_told(tmp_path: Path) -> None:
    site = Recorded(tmp_path)
    recorded(site, 12)
    accounts = site.register.accounts(hash_memory=64)
    People(accounts).add(PersonRole.VIEWER)
    app = make_app(Room(site.register, accounts, lambda: NOW, secure=False))
    conveyor = site.register.conveyors()[0].conveyor
    with TestClient(app, follow_redirects=False) as client:
        sign_in(client, "viewer")
        told = client.get(f"/conveyors/{conveyor}/inspection-interval", params=PRICED).text
    when = when_to_look_recorded(site.register, NOW, *COSTS, found=FOUND)
    learnt, rules = when.learnt, when.rules
    assert learnt is not None and rules is not None
    kind = when.measure.kind
    for number in (rules.stated.interval, learnt.mean, learnt.low, learnt.high, 1 / learnt.rate):
        assert show(number, kind) in told
    assert "of which 4 failed, 4 without being found before" in told
    assert "If delays are short" in told
    assert "Not enough data" not in told and "not enough data" not in told
    assert 'id="why/delay.mean"' in told and 'href="#why/delay.mean"' in told
    assert "Baker and Wang" in told and "from memory" in told
    # Every number of it is explained.
    record = record_of_looking(when)
    keys = {key_of(e) for e in record.entries}
    assert {
        "looks.damages", "damage.exposure", "damage.between", "delay.low", "delay.mean",
        "delay.high", "interval.best", "interval.missed", "interval.low", "interval.high",
        "interval.half", "interval.double", "interval.short", "interval.long",
    } <= keys  # fmt: skip

    def value(key: str) -> float:
        entry = record.find(key)
        return (entry.figure if isinstance(entry, Line) else entry).value

    # n/E = λ, and the share missed by its formula is that of the rule
    assert value("looks.damages") / value("damage.exposure") == pytest.approx(learnt.rate)
    assert value("damage.exposure") < value("looks.watched")
    assert value("interval.missed") == pytest.approx(rules.stated.missed, rel=1e-6)
    assert value("interval.low") < value("interval.best") < value("interval.high")


@pytest.mark.parametrize("name", ["phone", "desk"])
def test_the_page_in_a_browser(
    name: str, request: pytest.FixtureRequest, register: SqlRegister
) -> None:
    page: Page = request.getfixturevalue(name)
    enter(page, "viewer")
    priced = "&".join(f"{k}={v}" for k, v in PRICED.items())
    page.goto(f"{where(register)}?{priced}&every=4000+h&delay=600+h&found=90+%25")
    axe(page)
    fits(page)
    assert small_targets(page) == []
    picture(page, f"intervals-{name}")
