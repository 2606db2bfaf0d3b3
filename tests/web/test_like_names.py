"""Two sites with a conveyor of one name, and joints whose names begin alike: nothing is mixed up.

Every joint, belt and job of a site carries the site's own word in notes and readings, so that a
page of one site can be searched for whatever belongs to the other.
"""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from fastapi.testclient import TestClient
from python_calamine import CalamineWorkbook

from planned import SITE
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.life.forecast_joints import forecast_joints
from splicewright.actions.life.from_register import lives_of_register
from splicewright.actions.plan.bundle_packs import bundle_packs
from splicewright.actions.plan.plan import plan_joint
from splicewright.actions.plan.record import record_plan
from splicewright.actions.register.use import conveyor_labels, look_into
from splicewright.actions.shutdown.choose_joints import choose_recorded_joints
from splicewright.actions.shutdown.plan import Hands, plan_shutdown
from splicewright.quantities import Kind, read
from splicewright.store import Account, Fact, Scope, Stream, What
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.joint_facts import (
    DueSet,
    InspectionClosed,
    JointBuilt,
    JointPlanned,
    JointPutToWork,
    JointRemoved,
    Mode,
    ReadingTaken,
    Task,
    WearLimitSet,
)
from splicewright.store.facts.plant_facts import BeltPlaced, DamageFound, Grade
from splicewright.store.sql.register import SqlRegister, open_register
from splicewright.web.routes import page_routes
from web.calling import API, Office, calling
from web.conftest import START, Clock

Enter = Callable[[str], TestClient]
NAME = "K2 incline"
LABELS = ("A", "A1", "A, left")
"""Joints of each of the two conveyors; each name begins the next."""
_PLACES = {"conveyor", "joint", "job", "site"}


@dataclass
class Plant:
    """One of the sites, by what it calls its own."""

    word: str
    site: UUID
    conveyor: UUID
    belt: UUID = field(default_factory=uuid4)
    joints: dict[str, UUID] = field(default_factory=dict)
    removed: UUID = field(default_factory=uuid4)
    job: UUID = field(default_factory=uuid4)

    @property
    def marks(self) -> set[str]:
        """What stands on no page of the other site."""
        ids = (self.site, self.conveyor, self.belt, self.removed, self.job, *self.joints.values())
        return {self.word, *map(str, ids)}


@pytest.fixture
def register(tmp_path: Path, clock: Clock) -> Iterator[SqlRegister]:
    with open_register(tmp_path / "register.sqlite", clock=clock) as opened:
        yield opened


@pytest.fixture
def pits(register: SqlRegister, clock: Clock, tmp_path: Path) -> tuple[Plant, Plant]:
    """North, where nothing fails and pins wear, and south, where joints fail and covers wear."""
    text = (SITE / "conveyors" / "incline.toml").read_text("utf-8")
    plan = plan_joint(SITE / "conveyors/incline.toml", SITE / "jobs/incline-worn-joint.toml")

    def say(day: float, *whats: What) -> None:
        at = START - timedelta(days=day)
        clock.now = max(clock.now, at)
        register.append(*(Fact(uuid4(), at, "Ada Example", what) for what in whats))

    def measured(day: float, of: Stream, about: UUID, what: str, value: str, note: str) -> None:
        kind = Kind.LENGTH
        say(day, ReadingTaken(of, about, what, kind, read(value, kind), value, note))

    found = []
    clock.now = START - timedelta(days=900)
    for word in ("Northpit", "Southpit"):
        file = tmp_path / f"{word}.toml"
        assert "Karst Hollow quarry (invented)" in text
        file.write_text(
            text.replace("Karst Hollow quarry (invented)", f"{word} (invented)"), "utf-8"
        )
        made = record_conveyor(register, file, by="Ada Example", now=clock.now)
        found.append(Plant(word, made.site, made.conveyor))
    for day in (800.0, 500.0, 200.0, 1.0):
        for plant in found:
            if day == 800.0:
                say(day, BeltPlaced(plant.belt, plant.conveyor, f"belt {plant.word}", 240.0))
                for label in LABELS:
                    joint = plant.joints[label] = uuid4()
                    due = DueSet(joint, Task.INSPECT, START + timedelta(days=3), plant.word)
                    say(day, JointPlanned(joint, plant.conveyor, label), JointBuilt(joint),
                        JointPutToWork(joint), due)  # fmt: skip
                say(day, JointPlanned(plant.removed, plant.conveyor, "A"),
                    JointBuilt(plant.removed), JointPutToWork(plant.removed))  # fmt: skip
            share = (800.0 - day) / 800.0
            if plant.word == "Northpit":
                for label, worn in (("A", 1.0), ("A1", 2.0), ("A, left", 3.0)):
                    value = f"{10.0 - worn * share:.3f} mm"
                    measured(day, Stream.JOINT, plant.joints[label], "pin", value, plant.word)
            else:
                value = f"{8.0 - 4.0 * share:.3f} mm"
                measured(day, Stream.CONVEYOR, plant.conveyor, "carry cover", value, plant.word)
    north, south = found
    for label in LABELS:
        say(
            400,
            WearLimitSet(
                Stream.JOINT, north.joints[label], "pin", 0.006, "6 mm", "Northpit", 0.010
            ),
        )
    say(
        400,
        WearLimitSet(
            Stream.CONVEYOR, south.conveyor, "carry cover", 0.002, "2 mm", "Southpit", 0.008
        ),
    )
    say(300, JointRemoved(north.removed, Mode.RENEWED), JointRemoved(south.removed, Mode.PULL_OUT))
    say(2, InspectionClosed(south.joints["A"], uuid4(), can_run=False, note="Southpit"))
    for plant in found:
        say(1, DamageFound(plant.belt, uuid4(), 40.0, 0.3, Grade.WATCH, None, plant.word))
        recorded = record_plan(
            register, plan, conveyor=plant.conveyor, label="A2", by="Ada Example", now=START
        )
        plant.joints["A2"], plant.job = recorded.joint, recorded.job
    clock.now = START
    return north, south


def test_no_page_of_a_thing_shows_what_is_of_its_namesake(
    signed_in: Enter, pits: tuple[Plant, Plant]
) -> None:
    client = signed_in("lead")
    seen = set()
    for mine, other in (pits, pits[::-1]):
        for route in page_routes():
            if "GET" not in (route.methods or ()) or "{" not in route.path:
                continue
            parts = set(re.findall(r"\{(\w+)", route.path))
            if not parts <= _PLACES:
                continue
            for label in LABELS if "joint" in parts else ("A",):
                page = client.get(
                    route.path.format(
                        conveyor=mine.conveyor, joint=mine.joints[label], job=mine.job,
                        site=mine.site,
                    ),
                    follow_redirects=True,
                )  # fmt: skip
                # 403: only an admin opens it.
                assert page.status_code in {200, 403, 404}, route.path
                if page.status_code == 200:
                    seen.add(route.path)
                # What a pooled forecast rests on names every conveyor it was pooled from.
                own = page.text.partition("<h2>What this rests on</h2>")[0]
                strange = [mark for mark in other.marks if mark in own]
                assert not strange, (route.path, label, strange)
    assert {
        "/conveyors/{conveyor}", "/conveyors/{conveyor}/forecast", "/conveyors/{conveyor}/limits",
        "/conveyors/{conveyor}/decide", "/conveyors/{conveyor}/belt", "/joints/{joint}",
        "/joints/{joint}/forecast", "/joints/{joint}/inspect", "/joints/{joint}/label",
        "/jobs/{job}", "/jobs/{job}/parts",
    } <= seen  # fmt: skip


def test_each_conveyor_has_its_own_outlook(signed_in: Enter, pits: tuple[Plant, Plant]) -> None:
    client = signed_in("viewer")
    north, south = (client.get(f"/conveyors/{p.conveyor}/forecast").text for p in pits)
    # One joint of the south pulled out, none of the north: only the south has a curve of lives.
    assert "life.svg" in south
    assert "life.svg" not in north
    assert "Carry cover" in south
    assert "Carry cover" not in north
    for plant, page in zip(pits, (north, south), strict=True):
        shown = set(re.findall(r"/joints/([0-9a-f-]+)/forecast", page))
        assert shown == {str(plant.joints[label]) for label in LABELS}


def test_a_joint_shows_its_own_wear_only(signed_in: Enter, pits: tuple[Plant, Plant]) -> None:
    client = signed_in("viewer")
    for label in LABELS:
        page = client.get(f"/joints/{pits[0].joints[label]}/forecast").text
        places = re.findall(r"<h3>([^<]*)</h3>", page)
        assert places == [f"Joint {label}, pin"]
        number = re.search(r"forecast/wear-(\d+)\.svg", page)
        assert number is not None
        drawn = client.get(f"/conveyors/{pits[0].conveyor}/forecast/wear-{number[1]}.svg").text
        assert f"joint {label}, pin" in drawn
    assert "<h3>" not in client.get(f"/joints/{pits[1].joints['A']}/forecast").text


def test_two_joints_of_one_name_on_one_conveyor_are_two_places(
    signed_in: Enter, register: SqlRegister, pits: tuple[Plant, Plant]
) -> None:
    north = pits[0]
    twin = uuid4()
    pin, at = Kind.LENGTH, START - timedelta(days=1)
    whats: tuple[What, ...] = (
        JointPlanned(twin, north.conveyor, "A"), JointBuilt(twin), JointPutToWork(twin),
        WearLimitSet(Stream.JOINT, twin, "pin", 0.006, "6 mm", "Northpit", 0.010),
        ReadingTaken(Stream.JOINT, twin, "pin", pin, 0.0061, "6.1 mm"),
    )  # fmt: skip
    register.append(*(Fact(uuid4(), at, "Ada Example", what) for what in whats))
    client = signed_in("viewer")
    for joint in (twin, north.joints["A"]):
        page = client.get(f"/joints/{joint}/forecast").text
        assert re.findall(r"<h3>([^<]*)</h3>", page) == ["Joint A, pin"]
        assert ("6.1 mm" in page) == (joint == twin)


def test_lists_of_all_sites_name_each_conveyor_unmistakably(
    signed_in: Enter, register: SqlRegister, pits: tuple[Plant, Plant]
) -> None:
    client = signed_in("lead")
    north, south = pits
    called = conveyor_labels(register)
    assert called == {
        p.conveyor: f"{p.word} (invented): {NAME}" for p in pits
    }  # fmt: skip
    for path in ("/fleet", "/due", "/jobs", "/labels", "/shutdown"):
        page = client.get(path).text
        for plant in pits:
            assert called[plant.conveyor] in page, path
    found = client.get("/conveyors?q=northpit").text
    assert str(north.conveyor) in found
    assert str(south.conveyor) not in found
    due = client.get(f"/due?site={south.site}").text
    assert not [mark for mark in north.marks - {north.word, str(north.site)} if mark in due]
    table = client.get("/fleet.xlsx").content
    rows = CalamineWorkbook.from_filelike(io.BytesIO(table)).get_sheet_by_index(0).to_python()
    at = {(str(row[2]), str(row[3])) for row in rows[1:]}
    assert at == {(called[p.conveyor], f"{p.word} (invented)") for p in pits}
    page = client.get("/fleet").text
    outlooks = re.findall(
        r'data-head="Conveyor"><a class="tap" href="/conveyors/([0-9a-f-]+)/forecast">([^<]+)</a>'
        r'.*?data-head="Failed so far" class="number"><span>(\d+)<', page, re.S,
    )  # fmt: skip
    assert {(UUID(c), name): int(n) for c, name, n in outlooks} == {
        (north.conveyor, called[north.conveyor]): 0,
        # one pulled out, one found unfit to run
        (south.conveyor, called[south.conveyor]): 2,
    }


def test_the_sticker_of_a_joint_names_its_own_site(
    signed_in: Enter, pits: tuple[Plant, Plant]
) -> None:
    client = signed_in("viewer")
    for mine, other in (pits, pits[::-1]):
        page = client.get(f"/labels?conveyor={mine.conveyor}&all=true").text
        assert mine.word in page
        assert not [mark for mark in other.marks if mark in page]


def test_jobs_of_like_named_conveyors_are_isolated_each_by_itself(
    signed_in: Enter, register: SqlRegister, pits: tuple[Plant, Plant]
) -> None:
    study = plan_shutdown(register, START, [p.job for p in pits], "60 h", Hands(8))
    called = conveyor_labels(register)
    isolated = [t.name for t in study.shutdown.tasks if t.name.endswith(": isolate")
                or "solat" in t.name]  # fmt: skip
    assert len(isolated) == len(pits), isolated
    for plant in pits:
        assert any(called[plant.conveyor] in name for name in isolated)
    page = signed_in("lead").get(
        f"/shutdown/jobs?job={pits[0].job}&job={pits[1].job}&window=60+h&crew=8"
    )
    assert page.status_code == 200
    assert "isolated, cleared" not in page.text


def test_joints_to_renew_are_told_apart(register: SqlRegister, pits: tuple[Plant, Plant]) -> None:
    study = choose_recorded_joints(
        register, START, "40 h", 4, until=(START + timedelta(days=200)).date(), each="10 h",
        failure_cost=100_000.0, renewal_cost=100.0,
    )  # fmt: skip
    names = [c.joint for c in study.asked.candidates]
    assert len(names) == len(set(names)) == 2 * len(LABELS) - 1  # one must not run
    assert len({c.conveyor for c in study.asked.candidates}) == len(pits)


def test_packs_and_forecasts_of_all_sites_stay_apart(
    register: SqlRegister, pits: tuple[Plant, Plant]
) -> None:
    bundle = bundle_packs(register, [p.job for p in pits])
    assert [next(p.word for p in pits if p.word in folder) for folder in bundle.packs] == [
        "Northpit", "Southpit",
    ]  # fmt: skip
    made = forecast_joints(register, START, 30 * 86400.0)
    # The joint that was pulled out, and the one that an inspection found unfit: as the fleet list
    # and `life` count them, which read looks and removals by themselves.
    read_ = lives_of_register(look_into(register, START), kinds=False)
    failed = Counter(j.site for j in read_.joints if j.life is not None and j.life.failed)
    assert {(s.site, s.failures) for s in made.sites} == {
        (f"{p.word} (invented)", failed[f"{p.word} (invented)"]) for p in pits
    }
    assert failed == {"Southpit (invented)": 2}
    with zipfile.ZipFile(io.BytesIO(made.content)) as archive:
        tables = [archive.read(n).decode() for n in archive.namelist() if n.endswith(".csv")]
    assert tables
    for table in tables:
        assert not ("Northpit" in table and "Southpit" in table)


def test_lists_of_the_api_hold_what_was_asked_for(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock, people: dict[str, Account],
    tmp_path: Path, pits: tuple[Plant, Plant],
) -> None:  # fmt: skip
    office = Office(register, accounts, clock, tmp_path / "register.sqlite")
    with calling(office.app, office.key(people["admin"], Scope.ADMIN)) as client:
        for mine, other in (pits, pits[::-1]):
            for path in (
                f"sites/{mine.site}", f"conveyors?site={mine.site}", f"conveyors/{mine.conveyor}",
                f"conveyors/{mine.conveyor}/belts", f"joints?conveyor={mine.conveyor}",
                f"jobs?conveyor={mine.conveyor}", f"jobs/{mine.job}",
                f"due?days=30&site={mine.site}", f"due?days=30&conveyor={mine.conveyor}",
                f"due?days=30&joint={mine.joints['A']}", f"readings?about={mine.joints['A']}",
                f"readings?about={mine.conveyor}", f"belts/{mine.belt}/damage",
            ):  # fmt: skip
                answer = client.get(f"{API}/{path}")
                assert answer.status_code == 200, path
                assert not [m for m in other.marks if m in answer.text], path
        # A label is no identity: both conveyors have such joints, and are told apart by id.
        for label, count in (("A", 2), ("A1", 1), ("A, left", 1), ("A2", 1)):
            found = client.get(f"{API}/joints", params={"label": label}).json()["joints"]
            assert len(found) == count * len(pits), json.dumps(found)
            assert {UUID(j["conveyor"]) for j in found} == {p.conveyor for p in pits}
    office.queue.close()
