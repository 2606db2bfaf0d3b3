"""Whoever is let into one of two sites reads what a register of that one site alone would say.

The register of one site is the independent model: it never heard of the other, and has no rule of
sites to get wrong. Every question that a register answers is asked of both.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from sqlalchemy import text

from splicewright.quantities import Kind
from splicewright.store import CONSOLE, NOBODY, Actor, Fact, PersonRole, Register, Stream, What
from splicewright.store.database import opening
from splicewright.store.facts.job_facts import DEVIATION, DeviationSigned, JobOpened
from splicewright.store.facts.joint_facts import (
    DueSet,
    InspectionClosed,
    JointPutToWork,
    PhotoAdded,
    Task,
)
from splicewright.store.facts.plant_facts import (
    DamageFound,
    Grade,
    PersonAdded,
    PiecePlaced,
    StockMoved,
)
from splicewright.store.present.present import State
from splicewright.store.sites import ALL_SITES, both, covers, shares
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import START, Clock, Plant

LATE = START + timedelta(days=3000)
Ask = Callable[[Register], Any]


def _fill(register: SqlRegister, plant: Plant) -> dict[str, Any]:
    """A site with something in every table; the same facts for whichever register."""
    plant.begin(register)
    joint = plant.joint(register)
    job, person = uuid4(), uuid4()
    photo = register.keep(plant.site.bytes, "image/jpeg")
    facts = [
        plant.fact(what)
        for what in (
            JobOpened(job, plant.conveyor, "renew J1", joint),
            JointPutToWork(joint),
            StockMoved(plant.site, "bolt", 4.0),
            PiecePlaced(plant.belt, uuid4(), "piece", 1.0, 5.0),
            DamageFound(plant.belt, uuid4(), 3.0, 0.1, Grade.WATCH),
            DueSet(joint, Task.INSPECT, START + timedelta(days=1), "so"),
            PhotoAdded(Stream.JOB, job, photo),
            InspectionClosed(joint, uuid4(), False),
            DeviationSigned(job, "measure", "gap", 1, Kind.LENGTH, 0.01, "0 to 1 mm", "so", "look",
                            DEVIATION, START + timedelta(days=5), 0.0, 0.001),
            PersonAdded(person, "Ada Example"),
        )
    ]  # fmt: skip
    register.append(*facts)
    return {
        "joint": joint, "job": job, "photo": photo, "facts": facts, "conveyor": plant.conveyor,
        "belt": plant.belt, "site": plant.site, "person": person,
    }  # fmt: skip


def _questions(at: dict[str, Any]) -> dict[str, Ask]:
    """Each question, about the things of one site and about none in particular."""
    subjects = [at[k] for k in ("site", "conveyor", "belt", "joint", "job")]
    return {
        "sites": lambda r: r.sites(),
        "site": lambda r: r.site(at["site"]),
        "conveyors": lambda r: (r.conveyors(), r.conveyors(at["site"])),
        "conveyor": lambda r: r.conveyor(at["conveyor"]),
        "belt": lambda r: r.belt(at["belt"]),
        "belts": lambda r: r.belts(at["conveyor"]),
        "belts_ever": lambda r: r.belts_ever(at["conveyor"]),
        "lies_at": lambda r: r.lies_at(at["conveyor"]),
        "pieces": lambda r: r.pieces(at["belt"]),
        "damage": lambda r: r.damage(at["belt"]),
        "joint": lambda r: r.joint(at["joint"]),
        "joints": lambda r: (
            r.joints(), r.joints(at["conveyor"]), r.joints(label="J1"), r.joints(limit=1),
            r.joints(states=[State.PLANNED]), r.joints(after=("", UUID(int=0))),
        ),
        "barred": lambda r: (
            r.barred(), r.barred(site=at["site"]), r.barred(conveyor=at["conveyor"]),
        ),
        "jobs": lambda r: (r.jobs(), r.jobs(at["conveyor"]), r.jobs(open_only=True, limit=1),
                           r.jobs(site=at["site"])),
        "job": lambda r: r.job(at["job"]),
        "people": lambda r: r.people(),
        "stock": lambda r: r.stock(at["site"]),
        "due": lambda r: (
            r.due(LATE), r.due(LATE, site=at["site"]), r.due(LATE, conveyor=at["conveyor"]),
            r.due(LATE, joint=at["joint"]), r.due(LATE, limit=1),
        ),
        "pressing": lambda r: r.pressing(START, LATE, 5),
        "running_not_due": lambda r: r.running_not_due(START - timedelta(days=1), LATE, START),
        "open_damage": lambda r: (r.open_damage(), r.open_damage(1)),
        "life_counts": lambda r: (r.life_counts(), r.life_counts(at["site"])),
        "left_outside": lambda r: (
            r.left_outside(LATE), r.left_outside(LATE, site=at["site"]),
            r.left_outside(LATE, conveyor=at["conveyor"]), r.left_outside(LATE, joint=at["joint"]),
        ),
        "content": lambda r: r.content(at["photo"]) if r.has_content(at["photo"]) else None,
        "has_content": lambda r: r.has_content(at["photo"]),
        "version": lambda r: [r.version(s) > 0 for s in subjects],
        "changes_of": lambda r: sorted(r.changes_of(subjects)),
        "fact": lambda r: [_said(r.fact(f.id)) for f in at["facts"]],
        "known": lambda r: r.known(f.id for f in at["facts"]),
        "facts_since": lambda r: (
            [_said(s) for s in r.facts_since(0)],
            [_said(s) for s in r.facts_since(0, limit=3)],
            [_said(s) for s in r.facts_since(0, kinds=["joint planned", "due set"])],
        ),
        "facts_about": lambda r: [[_said(s) for s in r.facts_about(s)] for s in subjects],
        "facts_of_things": lambda r: [
            _said(s) for s in r.facts_of_things(subjects, ("stock moved", "reading taken"))
        ],
        "newest_about": lambda r: (
            r.newest_about(subjects, 3)[0], [_said(s) for s in r.newest_about(subjects, 3)[1]],
        ),
    }  # fmt: skip


_WHOLE = {"verify", "verify_part", "dump", "load", "back_up", "rebuild", "head", "since", "close"}
"""What is of the register as a whole: for the console, but for its last fact and what came."""
_DOING = {"said_by", "sites_seen", "in_process", "append", "keep", "at_one_moment"}


def _said(stored: Any) -> Fact | None:
    """The fact without its place in the chain, which tells that there are others."""
    return None if stored is None else stored.fact


def test_every_question_is_asked() -> None:
    asked = {n for n, _ in inspect.getmembers(Register) if not n.startswith("_")}
    things = dict.fromkeys(("site", "conveyor", "belt", "joint", "job", "photo", "facts"))
    assert asked == set(_questions(things)) | _WHOLE | _DOING


def test_one_site_of_two_reads_as_that_site_alone(
    register: SqlRegister, second: Callable[..., str], clock: Clock
) -> None:
    mine, other = Plant(clock), Plant(clock)
    with open_register(second(), clock=clock) as alone:
        there = _fill(alone, mine)
        _fill(register, other)
        for stored in alone.facts_since(0):  # theirs between the other's
            if stored.fact.kind == "photograph added":
                register.keep(mine.site.bytes, "image/jpeg")
            register.append(stored.fact)
        away = _fill(register, Plant(clock))
        let_in = Actor(uuid4(), "Ada", PersonRole.ADMIN, sites=frozenset({mine.site}))
        theirs = register.said_by(let_in)
        everything = register.said_by(replace(let_in, sites=ALL_SITES))
        for name, ask in _questions(there).items():
            if name == "people":  # known by their accounts, which this register has none of
                assert ask(theirs) == ()
                continue
            expected = ask(alone)
            if name == "facts_since":
                expected = tuple(
                    [f for f in part if f.stream is not Stream.PERSON] for part in expected
                )
            if name in {"fact", "known"}:
                gone = there["facts"][-1]
                expected = expected - {gone.id} if name == "known" else [*expected[:-1], None]
            assert ask(theirs) == expected, name
            assert ask(register.said_by(NOBODY)) != expected or not expected, name
        nothing = _questions(_nobody(away["facts"]))
        for name, ask in _questions(away).items():
            assert ask(theirs) == nothing[name](theirs), name
            if name not in {"people", "version"}:
                assert ask(everything) != nothing[name](everything) or name in {
                    "sites", "facts_since", "pressing", "running_not_due", "open_damage",
                }, name  # fmt: skip


def _nobody(facts: list[Fact]) -> dict[str, Any]:
    """Things nobody made, for as many questions."""
    ids = dict.fromkeys(("site", "conveyor", "belt", "joint", "job", "person"))
    strange = [replace(f, id=uuid4()) for f in facts]
    return {name: uuid4() for name in ids} | {"photo": "0" * 64, "facts": strange}


def test_a_conveyor_that_is_moved_takes_everything_with_it(
    register: SqlRegister, clock: Clock
) -> None:
    from splicewright.store.facts.plant_facts import ConveyorRecorded

    here, there = Plant(clock), Plant(clock)
    at = _fill(register, here)
    there.begin(register)
    one, two = (
        register.said_by(Actor(uuid4(), "x", PersonRole.CREW, sites=frozenset({p.site})))
        for p in (here, there)
    )
    assert one.joint(at["joint"]) is not None and two.joint(at["joint"]) is None
    moved: What = ConveyorRecorded(here.conveyor, there.site, "K2", None, 240.0, 2.0)
    register.append(here.fact(moved))
    assert one.joint(at["joint"]) is None and two.joint(at["joint"]) is not None
    assert not one.has_content(at["photo"]) and two.has_content(at["photo"])


def test_whoever_was_there_before_is_let_into_all(tmp_path: Path, clock: Clock) -> None:
    """An account and an open link of the release before sites."""
    engine = opening.connect(opening.read_url(tmp_path / "old.sqlite"), 5.0)
    opening.migrate(engine, "0005")
    now = round(clock().timestamp() * 1e6)
    with opening.writing(engine).begin() as connection:
        connection.execute(
            text("INSERT INTO accounts VALUES (:id, 'ada', 'Ada', 'admin', 'x', 'metric', :n, 0)"),
            {"id": uuid4().hex, "n": now},
        )
        connection.execute(text("UPDATE accounts SET closed = NULL"))
        connection.execute(
            text("INSERT INTO invitations VALUES (:d, 'Eve', 'crew', NULL, NULL, :n, :u, NULL)"),
            {"d": b"d" * 32, "n": now, "u": now + 10**10},
        )
    engine.dispose()
    with open_register(tmp_path / "old.sqlite", clock=clock) as opened:
        accounts = opened.accounts(hash_memory=64)
        (account,) = accounts.accounts()
        (link,) = accounts.invitations()
        assert (account.sites, link.sites) == (ALL_SITES, ALL_SITES)


def test_the_rule_of_sites() -> None:
    """By hand: who may give what, who knows of whom; nothing said is no site."""
    a, b = uuid4(), uuid4()
    none, one, two = frozenset[UUID](), frozenset({a}), frozenset({a, b})
    assert [covers(m, t) for m, t in ((None, None), (None, two), (two, one), (one, one))] == [
        True, True, True, True,
    ]  # fmt: skip
    assert [covers(m, t) for m, t in ((one, None), (one, two), (none, one), (two, None))] == [
        False, False, False, False,
    ]  # fmt: skip
    assert shares(one, two) and shares(None, none) and shares(one, None)
    assert not shares(one, frozenset({b})) and not shares(none, None) and not shares(one, none)
    assert both(None, one) == one == both(one, None) == both(one, two)
    assert both(None, None) is None and both(one, frozenset({b})) == none
    assert Actor(None, "", PersonRole.ADMIN).sites == none
    assert (CONSOLE.sites, NOBODY.sites) == (ALL_SITES, none)


def test_the_register_as_a_whole_is_for_all_sites(
    register: SqlRegister, plant: Plant, tmp_path: Path
) -> None:
    theirs = register.said_by(Actor(None, "", PersonRole.ADMIN, sites=frozenset({plant.site})))
    for whole in (theirs.verify, lambda: list(theirs.dump()), lambda: theirs.back_up(tmp_path)):
        with pytest.raises(RuntimeError, match="let into all sites"):
            whole()
