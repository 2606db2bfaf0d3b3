"""Values that other systems send, by messages written by hand: once, or one sentence."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest

from splicewright.actions.incoming import Taken, keep_mapping, take_message
from splicewright.errors import InputError
from splicewright.store import CONSOLE, Actor, NotAllowedError, PersonRole, Scope
from splicewright.store.facts.joint_facts import ReadingTaken
from splicewright.store.incoming import MOST_FAULTS, Incoming
from splicewright.store.sql.register import SqlRegister
from store.making import Clock, Plant

MAPPING = b"""
site = "Karst Hollow (invented)"

[[value]]
topic = "plant/k2/hours"
conveyor = "K2"
unit = "h"

[[value]]
topic = "plant/k2/scale"
conveyor = "K2"
what = "belt scale"
unit = "t"
field = "weight.total"
id = "msg"
time = "ts"
every = "0 s"

[[value]]
topic = "plant/k2/j1/cover"
conveyor = "K2"
joint = "J1"
what = "carry cover left"
unit = "mm"
field = "v"
time = "ts"
every = "24 h"
"""


@pytest.fixture
def plant(register: SqlRegister, clock: Clock) -> Plant:
    made = Plant(clock)
    made.begin(register)
    made.joint(register)
    return made


@pytest.fixture
def incoming(register: SqlRegister, plant: Plant) -> Incoming:
    made = register.incoming()
    assert keep_mapping(register, made, CONSOLE, MAPPING, "mapping.toml") == (plant.site, 3)
    return made


@pytest.fixture
def logger(plant: Plant) -> Actor:
    """The program's key: of a crew account, for recording only."""
    sites = frozenset({plant.site})
    return Actor(uuid4(), "Logger", PersonRole.CREW, frozenset({Scope.RECORD}), sites=sites)


@pytest.fixture
def take(register: SqlRegister, incoming: Incoming, plant: Plant, clock: Clock, logger: Actor):  # type: ignore[no-untyped-def]
    def taken(topic: str, payload: object, identity: str = "") -> Taken:
        return take_message(
            register.said_by(logger), incoming, logger, plant.site, topic, payload,
            now=clock(), identity=identity, device="api",
        )  # fmt: skip

    return taken


def readings(register: SqlRegister, about: UUID) -> list[tuple[str, str, Any, str]]:
    found: list[tuple[str, str, Any, str]] = []
    for stored in register.facts_about(about):
        what = stored.fact.what
        if isinstance(what, ReadingTaken):
            found.append((what.what, what.typed, what.value, stored.fact.by))
    return found


def scale(total: object, msg: object, ts: object = "2026-05-04T05:00:00+00:00") -> str:
    return json.dumps({"weight": {"total": total}, "msg": msg, "ts": ts})


def test_hours_and_tonnes_are_readings_of_the_meter(register, plant, take) -> None:  # type: ignore[no-untyped-def]
    """3420.5 h are 3420.5 x 3600 s; 12,650 t are 12,650,000 kg: by definition of the units."""
    assert take("plant/k2/hours", "3420.5").verdict == "recorded"
    assert take("plant/k2/hours", b" 3420.5\n").verdict == "unchanged"
    assert take("plant/k2/scale", scale(12650, 1)).verdict == "recorded"
    assert readings(register, plant.conveyor) == [
        ("meter", "3420.5 h", pytest.approx(3420.5 * 3600), "Logger"),
        ("belt scale", "12650 t", pytest.approx(12_650_000.0), "Logger"),
    ]
    stored = register.facts_about(plant.conveyor)[-1]
    assert stored.fact.at.isoformat() == "2026-05-04T05:00:00+00:00"
    assert stored.fact.device == "api"


def test_the_same_message_is_recorded_once(register, plant, take, clock) -> None:  # type: ignore[no-untyped-def]
    first = take("plant/k2/scale", scale(100, "a"))
    clock.pass_(3600)
    again = take("plant/k2/scale", scale(100, "a"))
    assert (again.verdict, again.fact) == ("already", first.fact)
    other = take("plant/k2/scale", scale(101, "a"))
    assert other.verdict == "refused"
    assert other.sentence == 'id: "a" was used for 100 t before, and says 101 t now'
    assert take("plant/k2/scale", scale(101, "b")).verdict == "recorded"
    assert take("plant/k2/hours", 7, identity="x").verdict == "recorded"
    clock.pass_(86400)
    assert take("plant/k2/hours", 7, identity="x").verdict == "already"
    assert take("plant/k2/hours", 7, identity="y").verdict == "recorded"
    assert len(readings(register, plant.conveyor)) == 4


def test_no_more_is_recorded_than_asked_for(register, plant, take, clock) -> None:  # type: ignore[no-untyped-def]
    assert take("plant/k2/hours", 100).verdict == "recorded"
    clock.pass_(1800)
    assert take("plant/k2/hours", 100.5).verdict == "too soon"
    clock.pass_(1800)
    assert take("plant/k2/hours", 101).verdict == "recorded"
    # A meter that stands still is said once a day, so that the day it stood is known.
    clock.pass_(3600)
    assert take("plant/k2/hours", 101).verdict == "unchanged"
    clock.pass_(86400)
    assert take("plant/k2/hours", 101).verdict == "recorded"
    # By the moments of the messages: a backlog sent at once is as if it had come in time.
    cover = [
        ("2026-05-01T00:00:00Z", 9),
        ("2026-05-01T12:00:00Z", 8.9),
        ("2026-05-02T00:00:00Z", 8.8),
    ]
    told = [take("plant/k2/j1/cover", json.dumps({"v": v, "ts": ts})).verdict for ts, v in cover]
    assert told == ["recorded", "too soon", "recorded"]


BAD = [
    ("plant/k3/hours", "1", "topic: is not in the mapping of this site"),
    ("plant/k2/hours", "", "message: '' is no number; accepted is such as 3420.5"),
    ("plant/k2/hours", "nan", "message: 'nan' is no number"),
    ("plant/k2/hours", "1e400", "value: \"1e400 h\" is "),
    ("plant/k2/hours", "9" * 5000, "message"),
    ("plant/k2/hours", True, "message: 'True' is no number"),
    ("plant/k2/hours", [1], "message: '[1]' is no number"),
    ("plant/k2/hours", "-5", 'value: "-5 h" is below zero; accepted is zero or more'),
    ("plant/k2/hours", b"\xff\xfe", "message: is no text; accepted is UTF-8"),
    ("plant/k2/hours", b"1" * 20_000, "message: is 20000 bytes; accepted is up to 10000"),
    ("plant/k2/scale", "12", "weight.total: is not in the message"),
    ("plant/k2/scale", "{", "message: is no JSON; accepted is an object"),
    ("plant/k2/scale", "[" * 9000, "message: is no JSON"),
    ("plant/k2/scale", '{"weight": {"total": 1}}', "msg: is not in the message"),
    ("plant/k2/scale", scale(1, None), "msg: is no identity"),
    ("plant/k2/scale", scale(1, "x" * 201), "id: is longer than 200 characters"),
    ("plant/k2/scale", scale(1, 1, "yesterday"), "ts: 'yesterday' is no moment"),
    ("plant/k2/scale", scale(1, 1, "2026-05-04T05:00:00"), "ts: '2026-05-04T05:00:00' has no"),
    ("plant/k2/scale", scale(1, 1, 1e300), "ts: '1e+300' is no moment"),
    ("plant/k2/scale", scale(1, 1, 0), "ts: '0' is not believable"),
    ("plant/k2/scale", scale(1e300, 1), "value: "),
    ("plant/k2/scale", scale("12 kt", 1), "weight.total: '12 kt' is no number"),
]  # fmt: skip


def test_a_bad_message_is_one_sentence_in_the_list(register, plant, incoming, take) -> None:  # type: ignore[no-untyped-def]
    for topic, payload, said in BAD:
        for _ in range(2):
            told = take(topic, payload)
            assert told.verdict == "refused" and told.sentence.startswith(said), told.sentence
            assert "\n" not in told.sentence
        (line,) = incoming.faults(CONSOLE, plant.site)
        assert (line.topic, line.sentence, line.count) == (topic, told.sentence[:400], 2)
        incoming.forget_faults(CONSOLE, plant.site)
        done = [(c.shown_name, c.change.value, c.note) for c in register.accounts().changes(1)]
        assert done == [
            (
                "The console",
                "cleared what was wrong with incoming values",
                "of Karst Hollow (invented)",
            )
        ]
        assert incoming.faults(CONSOLE, plant.site) == ()
    assert readings(register, plant.conveyor) == []


def test_the_list_does_not_grow_without_end(plant, incoming, take, clock) -> None:  # type: ignore[no-untyped-def]
    for number in range(MOST_FAULTS + 5):
        clock.pass_(1)
        take(f"junk/{number}", "1")
    found = incoming.faults(CONSOLE, plant.site, 1000)
    assert len(found) == MOST_FAULTS
    assert found[0].topic == f"junk/{MOST_FAULTS + 4}"


def test_authority_is_asked_as_everywhere(register, plant, incoming, clock) -> None:  # type: ignore[no-untyped-def]
    def said_by(role: PersonRole, scopes: frozenset[Scope], *, here: bool) -> Taken:
        sites = frozenset({plant.site if here else uuid4()})
        actor = Actor(uuid4(), "Somebody", role, scopes, sites=sites)
        return take_message(
            register.said_by(actor), incoming, actor, plant.site, "plant/k2/hours", 1, now=clock()
        )

    record = frozenset({Scope.RECORD})
    assert "crew, leads and admins" in said_by(PersonRole.VIEWER, record, here=True).sentence
    assert (
        'the scope "record"'
        in said_by(PersonRole.CREW, frozenset({Scope.READ}), here=True).sentence
    )
    with pytest.raises(InputError, match="there is no site"):
        said_by(PersonRole.CREW, record, here=False)
    assert readings(register, plant.conveyor) == []
    lead = Actor(uuid4(), "Lead", PersonRole.LEAD, sites=frozenset({plant.site}))
    for door in (
        lambda: keep_mapping(register.said_by(lead), incoming, lead, MAPPING, "m.toml"),
        lambda: incoming.faults(lead, plant.site),
        lambda: incoming.forget_faults(lead, plant.site),
    ):
        with pytest.raises(NotAllowedError, match="admins of the site"):
            door()


REFUSED = [
    (b'unit = "h"', b'unit = "V"', '"V" is no unit of a reading'),
    (b'"24 h"', b'"24 m"', "every"),
    (b'"24 h"', b'"-1 h"', "every"),
    (b'topic = "plant/k2/scale"', b'topic = "plant/k2/hours"', "stands twice"),
    (b'topic = "plant/k2/scale"', b'topic = "plant/+/scale"', "topic"),
    (b'conveyor = "K2"\nunit = "h"', b'conveyor = "K9"\nunit = "h"', '"K9" is no conveyor'),
    (b'joint = "J1"', b'joint = "J9"', '"J9" is no joint of K2'),
    (b'what = "carry cover left"', b"", "name the place that is measured"),
    (b"site =", b"plant =", "site"),
    (b"(invented)", b"(another)", 'there is no site "Karst Hollow (another)"'),
    (b'id = "msg"', b'number = "msg"', "number"),
    (b'field = "v"\n', b"", "name `field`"),
]


def test_a_mapping_that_cannot_be_used_is_refused(register, plant, incoming) -> None:  # type: ignore[no-untyped-def]
    for was, now, said in REFUSED:
        assert was in MAPPING
        with pytest.raises(InputError) as refused:
            keep_mapping(register, incoming, CONSOLE, MAPPING.replace(was, now), "m.toml")
        assert said in str(refused.value), refused.value
        assert "value error" not in str(refused.value)
        assert all(fault.file == "m.toml" for fault in refused.value.faults)
    kept = incoming.mapping(plant.site)
    assert kept is not None and kept.file.encode() == MAPPING


def test_the_mapping_of_the_docs_can_be_used(register, plant, incoming) -> None:  # type: ignore[no-untyped-def]
    page = (Path(__file__).parents[2] / "docs" / "events.md").read_text("utf-8")
    shown = page.partition("```toml\n")[2].partition("```")[0]
    ours = {"Karst Hollow quarry": "Karst Hollow", "K2 incline": "K2", "K2-3": "J1"}
    for there, here in ours.items():
        shown = shown.replace(f'"{there}', f'"{here}')  # the page speaks of the example site
    kept = keep_mapping(register, incoming, CONSOLE, shown.encode(), "m.toml")
    assert kept == (plant.site, 3)
