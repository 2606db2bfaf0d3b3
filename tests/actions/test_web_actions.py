"""The invented site, people, and conveyors studied from the register."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.conveyor.study_recorded import (
    check_recorded,
    draw_recorded,
    study_recorded,
)
from splicewright.actions.example_site import open_example
from splicewright.actions.people.sign_in import join, make_known, sign_in
from splicewright.errors import InputError
from splicewright.files.typed_file import sent_file
from splicewright.quantities import Kind
from splicewright.store import PersonRole, State, Stream
from splicewright.store.authority import may_admit
from splicewright.store.facts.job_facts import ValueRecorded
from splicewright.store.facts.joint_facts import Task
from splicewright.store.facts.kinds import KINDS
from splicewright.store.sql.register import SqlRegister, open_register

SITE = Path(__file__).parents[2] / "examples" / "karst-hollow"
NOW = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)
PASSWORD = "three wet stones"


@pytest.fixture
def register(tmp_path: Path) -> Iterator[SqlRegister]:
    with open_register(tmp_path / "register.sqlite", clock=lambda: NOW) as opened:
        yield opened


def test_the_invented_site_has_something_for_every_page(register: SqlRegister) -> None:
    open_example(register, SITE, now=NOW)
    assert all("(invented)" in site.name for site in register.sites())
    assert {j.state for j in register.joints()} == set(State)
    due = register.due(NOW + timedelta(days=30))
    assert due[0].due < NOW < due[-1].due
    assert {d.task for d in due} == {Task.INSPECT, Task.RENEW}
    for conveyor in register.conveyors():
        (belt,) = register.belts(conveyor.conveyor)
        assert belt.length == conveyor.belt_length
        assert register.pieces(belt.belt)
    jobs = register.jobs()
    assert any(j.closed for j in jobs)
    assert any(j.closed is None for j in jobs)
    assert not any(j.changed for j in jobs)
    (site,) = register.sites()
    assert len(register.stock(site.site)) == 4
    facts = register.facts_since(0, 10_000)
    told = {stored.fact.kind for stored in facts}
    assert told >= {"reading taken", "plate inspected", "hold point signed", "value recorded"}
    assert told <= set(KINDS)
    assert all(stored.fact.by.endswith("Example") for stored in facts)
    assert all(stored.fact.at <= NOW for stored in facts)
    assert register.verify().faults == ()
    # What was measured is what a crew would write: as a calliper reads, and no bow of a metre.
    taken = [f.fact.what for f in facts if isinstance(f.fact.what, ValueRecorded)]
    lengths = [one for one in taken if one.measure is Kind.LENGTH]
    assert all(re.fullmatch(r"\d+(\.\d)? mm", one.typed) for one in lengths), lengths
    (bow,) = {one.value for one in lengths if one.what.startswith("Bow")}
    assert 0.003 < bow < 0.03


def test_a_folder_without_conveyors_is_refused(register: SqlRegister, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"holds no conveyors"):
        open_example(register, tmp_path, now=NOW)
    assert register.head().seq == 0


def test_a_person_who_joins_is_known_once(register: SqlRegister) -> None:
    accounts = register.accounts(hash_memory=64)
    secret = accounts.invite("Ada Example", PersonRole.CREW, None)
    session = join(register, accounts, secret, "ada", PASSWORD, address="here", now=NOW)
    assert session is not None
    assert session.token is not None
    again = sign_in(register, accounts, "ada", PASSWORD, address="here", now=NOW)
    assert again is not None
    assert sign_in(register, accounts, "ada", "not it at all", address="x", now=NOW) is None
    (fact,) = register.facts_about(session.account.account)
    assert fact.fact.stream is Stream.PERSON
    assert (fact.fact.by, fact.fact.person) == ("Ada Example", session.account.account)
    make_known(register, session.account, by=None, now=NOW)
    assert register.version(session.account.account) == fact.seq


def test_who_may_admit_whom() -> None:
    may = {(doer, role) for doer in PersonRole for role in PersonRole if may_admit(doer, role)}
    admin, lead = PersonRole.ADMIN, PersonRole.LEAD
    assert may == {(admin, role) for role in PersonRole} | {
        (lead, PersonRole.VIEWER), (lead, PersonRole.CREW),
    }  # fmt: skip


def test_a_conveyor_is_studied_from_its_kept_file(register: SqlRegister) -> None:
    done = record_conveyor(register, SITE / "conveyors" / "flat.toml", by="Ada", now=NOW)
    there = register.conveyor(done.conveyor)
    assert there is not None
    assert study_recorded(register, there).conveyor.name == there.name
    assert check_recorded(register, there).kind == "conveyor"
    assert draw_recorded(register, there, "loop", "metric").startswith(b"<svg")
    with pytest.raises(InputError, match="runs one way only"):
        draw_recorded(register, there, "tension-reverse", "metric")


@pytest.mark.parametrize(
    ("sent", "name"),
    [("K2.toml", "K2.toml"), ("../../etc/passwd", "passwd"), ("", "conveyor.toml"),
     ("...", "conveyor.toml"), ("a\x00b/c<d>.toml", "cd.toml"), ("x" * 300 + ".toml", None)],
)  # fmt: skip
def test_what_is_sent_lies_under_a_plain_name(sent: str, name: str | None) -> None:
    file = sent_file(b"data", sent, "conveyor.toml")
    assert file.read_bytes() == b"data"
    assert name is None or file.name == name
    assert len(file.name) <= 80
