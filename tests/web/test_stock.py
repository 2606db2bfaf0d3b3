"""Stock in, out and counted; the parts of a job picked; a site's fastener ranges."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from planned import SITE
from splicewright.actions.job.read import read_job
from splicewright.actions.plan.record import RecordedPlan
from splicewright.actions.stock.movements import Movement, item_of, move_stock, movements
from splicewright.actions.stock.order_notes import stock_notes
from splicewright.store import Correction, Fact, Stored, Stream
from splicewright.store.facts.job_facts import PARTS, StepTicked
from splicewright.store.facts.plant_facts import SiteAdded, StockMoved
from splicewright.store.sql.register import SqlRegister
from splicewright.web import stock as stock_page
from web.conftest import START, Clock, csrf_of, enter
from web.looking import axe, fits, picture, small_targets
from web.planned import keep_ranges, plan_on_incline

Enter = Callable[[str], TestClient]


@pytest.fixture
def joint(register: SqlRegister) -> RecordedPlan:
    return plan_on_incline(register)


@pytest.fixture
def store(register: SqlRegister, joint: RecordedPlan) -> UUID:
    """The site's store, with some of what the job needs."""
    site = register.sites()[0].site
    for item, count in (("hinge pin, spare", 3.0), ("joint sealant", 4.0)):
        move_stock(register, site, item, count, "delivered", by="Ada Example", now=START)
    return site


def _move(client: TestClient, site: UUID, **typed: str) -> tuple[int, str]:
    sent = {"csrf": csrf_of(client), "id": str(uuid4())} | typed
    done = client.post(f"/sites/{site}/stock", data=sent)
    return done.status_code, done.text


def _there(register: SqlRegister, site: UUID) -> dict[str, float]:
    return {row.item: row.count for row in register.stock(site)}


def test_in_out_and_counted(signed_in: Enter, register: SqlRegister, store: UUID) -> None:
    client = signed_in("crew")
    assert _move(client, store, item="bolt", how="in", count="200")[0] == 303
    assert _move(client, store, item="bolt", how="out", count="30", why="spoiled")[0] == 303
    assert _there(register, store)["bolt"] == 170
    assert _move(client, store, item="bolt", how="counted", count="165")[0] == 303
    assert _there(register, store)["bolt"] == 165
    last = movements(register.facts_about(store))[-1]
    assert (last.count, last.why, last.by) == (-5, "counted 165", "Crew Example")
    page = client.get(f"/sites/{store}/stock").text
    assert "spoiled" in page
    # The same page sent twice moves nothing twice.
    sent = {"csrf": csrf_of(client), "id": str(uuid4()), "item": "bolt", "how": "in", "count": "1"}
    for _ in range(2):
        assert client.post(f"/sites/{store}/stock", data=sent).status_code == 303
    assert _there(register, store)["bolt"] == 166


def test_bad_movements(signed_in: Enter, register: SqlRegister, store: UUID) -> None:
    client = signed_in("crew")
    head = register.head()
    for typed, said in (
        ({"item": "bolt", "how": "in", "count": "-3"}, "accepted is a number of more than 0"),
        ({"item": "bolt", "how": "in", "count": "nan"}, "is no count"),
        ({"item": "bolt", "how": "in", "count": "1e99"}, "is no count"),
        ({"item": "bolt", "how": "stolen", "count": "3"}, "accepted is in, out or counted"),
        ({"item": " ", "how": "in", "count": "3"}, "is no name of an item"),
        ({"item": "a\x00b", "how": "in", "count": "3"}, "is no name of an item"),
        ({"item": "bolt", "how": "out", "count": "3", "job": str(uuid4())}, "is no open job"),
    ):
        status, page = _move(client, store, **typed)
        assert status == 422
        assert said in page
    assert register.head() == head
    _, page = _move(client, store, item="<i>x</i>", how="in", count="x")
    assert "<i>x</i>" not in page
    viewer = signed_in("viewer")
    head = register.head()
    assert _move(viewer, store, item="bolt", how="in", count="3")[0] == 403
    assert register.head() == head


def test_pick_the_parts_of_a_job(
    signed_in: Enter, register: SqlRegister, joint: RecordedPlan, store: UUID
) -> None:
    client = signed_in("crew")
    where = f"/jobs/{joint.job}/parts"
    first = client.get(where)
    assert "are short in the store" in first.text
    lines = re.findall(r'id="line-(\d+)">\s*<p><b>(\d+) × ([^<]+)</b>', first.text)
    bolts = next(int(n) for n, _, name in lines if name == "bolt")
    needed = next(int(c) for _, c, name in lines if name == "bolt")

    def send(line: int, act: str, **more: str) -> int:
        sent = {"csrf": csrf_of(client), "id": str(uuid4()), "line": str(line), "act": act} | more
        return client.post(where, data=sent).status_code

    assert send(bolts, "take", count=str(needed - 10)) == 303
    page = client.get(where).text
    assert f"Taken out {needed - 10}" in page
    assert "10 short" in page
    # Under the name the store has for it; the name is known from then on.
    pin = next(int(n) for n, _, name in lines if name == "hinge pin")
    lot = "P-77, made 2026-05"
    assert send(pin, "take", count="1", item="hinge pin, spare", lot=lot) == 303
    assert f"in the kit, {lot}" in client.get(where).text
    assert lot in client.get(f"/jobs/{joint.job}/report").text
    assert send(pin, "tick", lot="P-78") == 303  # read again, on the box
    assert "in the kit, P-78" in client.get(where).text
    assert send(pin, "tick", lot="x" * 121) == 422
    assert _there(register, store)["hinge pin, spare"] == 2
    assert 'value="hinge pin, spare"' in client.get(where).text
    # Ticked on the newest plan, so that planning again knows what it was ticked for.
    view, planned = read_job(register, joint.job), register.joint(joint.joint)
    assert view is not None and planned is not None
    tick = view.sheet.ticks[PARTS, pin].last.what
    assert isinstance(tick, StepTicked) and tick.plan == planned.plan_id != ""
    assert send(pin, "untick") == 303
    assert send(bolts, "take", count="many") == 422
    assert send(999, "tick") == 404
    assert client.get(f"/jobs/{uuid4()}/parts").status_code == 404
    out = [m for m in movements(register.facts_about(store)) if m.job == joint.job]
    assert [m.count for m in out] == [10 - needed, -1]


def test_what_to_hold_by_hand(register: SqlRegister, store: UUID, clock: Clock) -> None:
    """Worked by hand: 4 uses in a year watched, of 2 each; an order takes a quarter year.

    The rate is known from 4 events only, so the events under way are negative binomial with shape
    4 + 1/2 and q = 1/(1 + 4) = 0.2; as the next one to come sees them, with shape 5.5 (a count
    weighed by itself). P(0) = 0.8^5.5 = 0.293, then 0.322, 0.210, 0.105, 0.045: P(0..3) = 0.930,
    P(0..4) = 0.974 is the first above 0.95, so 5 events of 2 are held.
    """
    year = timedelta(days=365.25)
    move_stock(register, store, "pin", 10.0, "", by="Ada", now=START)
    for n in range(1, 5):
        clock.now = START + n * year / 4
        move_stock(register, store, "pin", -2.0, "", by="Ada", now=clock.now)
    moved = movements(register.facts_about(store))
    quarter = year.total_seconds() / 4
    note = stock_notes(moved, {"pin": 2.0}, START + year, lead=quarter)["pin"]
    assert (note.uses, note.each) == (4, 2)
    assert math.isclose(note.per_year, 4.0)
    assert (note.hold, note.order) == (10, 8)
    few = stock_notes(moved[-1:], {"pin": 2.0}, START + year)["pin"]
    assert few.hold is None
    # Nothing on the shelf, or less than whole pieces: all that is held is ordered.
    for there in ({}, {"pin": 0.0}, {"pin": 0.9}, {"pin": -1.0}):
        empty = stock_notes(moved, there, START + year, lead=quarter)["pin"]
        assert (empty.hold, empty.order) == (10, 10)
    idle = stock_notes((), {"glue": 3.0}, START)["glue"]
    assert (idle.uses, idle.each, idle.watched, idle.per_year, idle.hold) == (0, 1, 0.0, 0.0, None)


def test_what_to_hold_is_explained(
    signed_in: Enter, register: SqlRegister, store: UUID, clock: Clock
) -> None:
    began = clock.now - timedelta(days=400)
    move_stock(register, store, "pin", 10.0, "", by="Ada", now=began)
    for n in range(1, 5):
        move_stock(register, store, "pin", -1.0, "", by="Ada", now=began + timedelta(days=90 * n))
    page = signed_in("crew").get(f"/sites/{store}/stock").text
    hold = re.search(r"Hold (\d+)", page)
    assert hold is not None
    card = page.partition('id="why/stock.hold"')[2].partition("</li>")[0]
    assert re.search(rf">{hold[1]}<", card), card[:400]


def test_movements_are_read_once_until_one_comes_or_is_withdrawn(
    signed_in: Enter, register: SqlRegister, store: UUID, clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """A store of 15,000 movements took 0.2 s of a core for every look at it."""
    read, crew, site = [0], signed_in("crew"), f"/sites/{store}/stock"

    def counted(facts: tuple[Stored, ...]) -> tuple[Movement, ...]:
        read[0] += 1
        return movements(facts)

    monkeypatch.setattr(stock_page, "movements", counted)
    for _ in range(3):
        assert "by another" not in crew.get(site).text
    elsewhere = SiteAdded(uuid4(), "Elsewhere (invented)")
    register.append(Fact(uuid4(), clock(), "Ben", elsewhere, device="x"))
    assert "by another" not in crew.get(site).text
    assert read == [1]
    moved = Fact(uuid4(), clock(), "Ben", StockMoved(store, "bolt", 9.0, "by another"), device="x")
    register.append(moved)
    for _ in range(2):
        assert "by another" in crew.get(site).text
    assert read == [2]
    back = Correction(Stream.SITE, store, moved.id, None, "a slip")
    register.append(Fact(uuid4(), clock(), "Ben", back, device="x"))
    assert "by another" not in crew.get(site).text and read == [3]


def test_ranges_of_a_site(signed_in: Enter, register: SqlRegister, store: UUID) -> None:
    lead, crew = signed_in("lead"), signed_in("crew")
    where = f"/sites/{store}/fasteners"
    raw = (SITE / "fasteners/hinged.toml").read_bytes()

    def add(client: TestClient, data: bytes) -> tuple[int, str]:
        sent = {"csrf": csrf_of(client)}
        done = client.post(where, data=sent, files={"file": ("hinged.toml", data)})
        return done.status_code, done.text

    assert add(crew, raw)[0] == 403
    assert add(lead, raw)[0] == 303
    assert "Karst example hinge" in crew.get(where).text
    assert "invented: not for real work" in crew.get(where).text
    status, page = add(lead, raw.replace(b'pitch = "30 mm"', b'pitch = "30 furlongs"'))
    assert status == 422
    assert "furlongs" in page
    assert "line" in page
    for bad in (b"\xff\xfe\x00", b"", b"x" * 1_000_001, b"[range]\nname = 3"):
        assert add(lead, bad)[0] == 422
    dropped = {"csrf": csrf_of(lead), "range": "Karst example hinge"}
    assert lead.post(f"{where}/drop", data=dropped).status_code == 303
    assert "None is kept yet" in crew.get(where).text
    assert lead.post(f"{where}/drop", data=dropped).status_code == 422
    assert crew.get(f"/sites/{uuid4()}/fasteners").status_code == 404


def test_stock_on_a_phone(
    phone: Page, register: SqlRegister, joint: RecordedPlan, store: UUID
) -> None:
    keep_ranges(register, store)
    enter(phone, "crew")
    phone.goto("/stock")
    phone.wait_for_url("**/stock")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    phone.get_by_label("came in").check()
    phone.get_by_label("Item").fill("bedding strip")
    phone.get_by_label("How many").fill("8")
    phone.get_by_role("button", name="Record it").click()
    expect(phone.locator("main")).to_contain_text("bedding strip")
    picture(phone, "stock-phone")
    phone.goto(f"/jobs/{joint.job}/parts")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    phone.get_by_role("button", name="Take out").first.click()
    expect(phone.locator("#line-1")).to_contain_text("in the kit")
    picture(phone, "parts-phone")
    phone.set_viewport_size({"width": 360, "height": 740})
    fits(phone)
    phone.goto(f"/sites/{store}/stock")
    fits(phone)
    expect(phone.locator("main")).to_contain_text("count it")
    phone.goto(f"/sites/{store}/fasteners")
    axe(phone)
    fits(phone)


def test_stock_on_a_desk(desk: Page, joint: RecordedPlan, store: UUID) -> None:
    enter(desk, "lead")
    desk.goto(f"/jobs/{joint.job}/parts")
    axe(desk)
    fits(desk)
    picture(desk, "parts-desk")
    desk.goto(f"/sites/{store}/stock")
    axe(desk)
    fits(desk)
    picture(desk, "stock-desk")
    desk.goto(f"/sites/{store}/fasteners")
    axe(desk)
    picture(desk, "fasteners-desk")


def test_names_of_parts_are_fit_for_a_store(register: SqlRegister, joint: RecordedPlan) -> None:
    from splicewright.actions.register.kept_files import kept_plan

    found = kept_plan(register, joint.joint)
    assert found is not None
    names = [item_of(part) for part in found[1].parts]
    assert len(set(names)) == len(names)
    assert all(0 < len(name) <= 120 for name in names)
