"""Who may say what by a table and by the command line: every kind they can say, role and state.

The doors by which any kind may come are in `test_authority.py`; who may say what is written there
by hand, and asked here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from click.testing import CliRunner

from planned import SITE, planned
from splicewright.actions.register.import_rows import TableKind, import_table
from splicewright.actions.register.table_rows import COLUMNS
from splicewright.background.requests import ask_import
from splicewright.cli import main
from splicewright.store import Account, Fact
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.authority import MUST_NOT_RUN, REASON
from splicewright.store.facts.joint_facts import InspectionClosed, JointSuspended
from web.calling import Office
from web.test_authority import ROLES, STATES, World, doors, may, world
from web.thousand import leaves

__all__ = ["doors", "world"]  # fixtures
BY_TABLE: dict[TableKind, set[str]] = {
    "joints": {"joint planned", "joint built", "joint put to work", "joint removed"},
    "readings": {"reading taken"},
    "stock": {"stock moved"},
}
"""Kinds that a row of each table can say."""
BY_COMMAND = {
    "register add-conveyor": {"site added", "conveyor recorded"},
    "register add-joint": {"joint planned", "job opened"},
    "register import": set[str]().union(*BY_TABLE.values()),
}
"""Kinds that each command can say under a name that is typed."""
ROWS: dict[str, tuple[TableKind, str, set[str]]] = {
    "a new joint": (
        "joints", "site,conveyor,label,built,removed\n{site},{conveyor},new {label},2026-01-05,"
        "2026-04-01\n", BY_TABLE["joints"],
    ),
    "put to work": (
        "joints", "site,conveyor,label,built,put to work\n"
        "{site},{conveyor},{label},2026-01-05,2026-04-02\n", {"joint put to work"},
    ),
    "removed": (
        "joints", "site,conveyor,label,built,removed\n"
        "{site},{conveyor},{label},2026-01-05,2026-04-03\n", {"joint removed"},
    ),
    "a reading": (
        "readings", "site,conveyor,label,what,measure,value,when\n"
        "{site},{conveyor},{label},pin,length,12 mm,2026-04-04\n", {"reading taken"},
    ),
    "stock": ("stock", "site,item,count,when,why\n{site},bolt,4,2026-04-05,{label}\n",
              {"stock moved"}),
}  # fmt: skip
"""What is said of a joint that is built and at work: table, file, and the facts that are new."""


def _row(world: World, saying: str, label: str) -> tuple[TableKind, bytes, set[str]]:
    table, text, kinds = ROWS[saying]
    there = world.register.site(world.site)
    assert there is not None
    said = text.format(site=f'"{there.name}"', conveyor=f'"{world.name}"', label=label)
    return table, said.encode(), kinds


def _joint(world: World, label: str, state: str) -> UUID:
    """A joint of a table of years ago, as it stands now."""
    there = world.register.site(world.site)
    assert there is not None
    row = f'"{there.name}","{world.name}",{label},2026-01-05'
    data = f"site,conveyor,label,built\n{row}\n".encode()
    import_table(world.register, "joints", "old.csv", data, by="Old", now=world.doors.clock())
    (joint,) = [j.joint for j in world.register.joints(world.conveyor, label=label)]
    if state == "must not run":
        world.doors.console(InspectionClosed(joint, uuid4(), False, note="cracked"))
    elif state == "suspended":
        world.doors.console(JointSuspended(joint, "plate lost"))
    return joint


def _refusal(saying: str, state: str, role: str) -> str:
    """The sentence that somebody is told, "" where it is recorded; a table states no reason."""
    if any(not may(kind, role) for kind in ROWS[saying][2]):
        return "is for crew, leads and admins to record; ask them"
    if saying == "put to work" and state != "running":
        return MUST_NOT_RUN if role == "crew" else REASON
    return ""


def _came(world: World, since: int) -> list[Fact]:
    return [stored.fact for stored in world.register.facts_since(since)]


def test_every_table_and_command_that_records_is_asked_here() -> None:
    assert set(BY_TABLE) == set(COLUMNS)
    assert set().union(*(kinds for _, _, kinds in ROWS.values())) == BY_COMMAND["register import"]
    assert set(BY_COMMAND) == {
        " ".join(words)
        for words, one in leaves()
        if words[0] == "register" and any(p.name == "by" for p in one.params)
    }


@pytest.fixture
def ask(
    world: World, accounts: SqlAccounts, tmp_path: Path
) -> Iterator[Callable[[Account, TableKind, bytes], str]]:
    """Import a table in the background as somebody; why its one row was refused."""
    office = Office(world.register, accounts, world.doors.clock, tmp_path / "register.sqlite")

    def run(who: Account, table: TableKind, data: bytes) -> str:
        made = ask_import(
            office.background, table, f"{table}.csv", data, by=who.name, account=who.account,
            step="apply",
        )  # fmt: skip
        office.work()
        done = office.background.tasks.task(made.task)
        assert done is not None and done.answer is not None and not done.failure, done
        return "; ".join(row["sentence"] for row in done.answer["refused_rows"])

    yield run
    office.queue.close()


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("saying", ROWS)
def test_a_table_says_what_whoever_asked_may_say(
    world: World, ask: Callable[[Account, TableKind, bytes], str], saying: str, state: str
) -> None:
    for role in ROLES:
        _joint(world, f"J {role}", state)
        table, data, kinds = _row(world, saying, f"J {role}")
        before = world.register.head().seq
        refused, wanted = ask(world.doors.people[role], table, data), _refusal(saying, state, role)
        assert (wanted in refused) if wanted else refused == "", (role, refused)
        came = _came(world, before)
        assert {fact.kind for fact in came} == (set() if wanted else kinds), role
        assert {fact.person for fact in came} <= {world.doors.people[role].account}


def _run(tmp_path: Path, *words: str) -> str:
    place = ("--by", "Ada Example", "--register", str(tmp_path / "register.sqlite"))
    done = CliRunner().invoke(main, ["register", *words, *place])
    assert done.exit_code == 0, done.output
    return done.output


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("saying", ROWS)
def test_the_command_line_says_what_an_admin_may(
    world: World, tmp_path: Path, saying: str, state: str
) -> None:
    """Whoever has the file in hand could write into it; what is asked of its state holds."""
    _joint(world, "J9", state)
    table, data, kinds = _row(world, saying, "J9")
    file, before = tmp_path / "rows.csv", world.register.head().seq
    file.write_bytes(data)
    told, wanted = _run(tmp_path, "import", table, str(file)), _refusal(saying, state, "admin")
    assert (wanted in told) if wanted else ", 0 refused" in told, told
    came = _came(world, before)
    assert {fact.kind for fact in came} == (set() if wanted else kinds)
    assert {(fact.by, fact.person) for fact in came} <= {("Ada Example", None)}


def test_commands_that_add_say_what_the_table_says(world: World, tmp_path: Path) -> None:
    file, plan = tmp_path / "elsewhere.toml", tmp_path / "plan.json"
    text = (SITE / "conveyors" / "flat.toml").read_text("utf-8")
    there = world.register.site(world.site)
    assert there is not None and there.name in text
    file.write_text(text.replace(there.name, "Elsewhere (invented)"), "utf-8")
    plan.write_text(planned("incline", "incline-worn-joint").to_json(), "utf-8")
    for words, said in (
        (("add-conveyor", str(file)), BY_COMMAND["register add-conveyor"]),
        (("add-joint", str(plan), "--label", "J98"), BY_COMMAND["register add-joint"]),
    ):
        before = world.register.head().seq
        _run(tmp_path, *words)
        came = _came(world, before)
        assert {fact.kind for fact in came} == said
        assert {(fact.by, fact.person) for fact in came} == {("Ada Example", None)}
        assert all(fact.at <= datetime.now(UTC) for fact in came)
