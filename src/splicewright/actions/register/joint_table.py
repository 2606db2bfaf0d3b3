"""All joints as a table for analysts: where each is, how it lived, how it failed.

The columns follow the notions of ISO 14224 (equipment, failure mode, mechanism, detection), as
remembered: its codes are not used. A mode that is not mapped to a mechanism stands as "not mapped"
and is counted; no row is left out for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.files.columns import Cell, Column, TableFormat, write_columns
from splicewright.history.life.counts import Fate
from splicewright.store.facts.joint_facts import Mode
from splicewright.store.present.life import UNFIT, life_of

if TYPE_CHECKING:
    from splicewright.store import Register
    from splicewright.store.present.present import ConveyorNow, JointNow

COLUMNS = (
    Column("fact", int, "number of the last fact about the joint; rows are in its order"),
    Column("changed", datetime, "when that fact arrived (UTC)"),
    Column("joint", str, "identity of the joint (equipment unit)"),
    Column("label", str, "what the joint is called"),
    Column("conveyor_id", str, "identity of the conveyor it is on"),
    Column("conveyor", str, "name of the conveyor"),
    Column("site_id", str, "identity of the site"),
    Column("site", str, "name of the site"),
    Column("place", float, "place of the pin axis on the belt [m]"),
    Column("construction", str, "kind of joint; empty where nobody said it"),
    Column("state", str, "planned, built, running, suspended or removed"),
    Column("built", datetime, "when it was built (UTC)"),
    Column("put_to_work", datetime, "when it was first put to work (UTC)"),
    Column("inspected", datetime, "last inspection (UTC)"),
    Column("can_run", bool, "what that inspection decided; empty where it left it open"),
    Column("ended", datetime, "when its life ended: removed, or found unfit to run (UTC)"),
    Column("age", float, "calendar time from put to work until then [s]; empty while it runs"),
    Column("failed", bool, "whether it ended by failure; a removal whose mode is other counts"),
    Column("failure_mode", str, "how it failed, in the register's own words"),
    Column("failure_mechanism", str, "deformation, looseness, wear, breakage, or not mapped"),
    Column("detection", str, "production interference, inspection, or not known"),
)
"""Every column, in order."""
NOT_MAPPED = "not mapped"
MECHANISMS = {
    Mode.PLATE_BENT.value: "deformation",
    Mode.RIPPLE.value: "deformation",
    Mode.LOOP_WORN.value: "wear",
    Mode.PIN_WORN.value: "wear",
    Mode.PIN_MIGRATED.value: "looseness",
    Mode.BOLT_LOST.value: "looseness",
    Mode.PIN_BROKEN.value: "breakage",
    Mode.EDGE_TORN.value: "breakage",
    Mode.PLY_TEAR.value: "breakage",
}
"""Mechanism of a mode (from memory of ISO 14224's notions). A pull-out may be breakage, looseness
or wear, so it is not mapped."""
_STOPS = {Mode.PULL_OUT.value, Mode.PIN_BROKEN.value}
"""Part the belt: they are noticed because it stops (assumption of this tool)."""
MOST = 100_000
"""Facts looked through at once."""
_PAGE = 5_000


@dataclass(frozen=True, slots=True)
class JointTable:
    """The table, or a part of it.

    content : the file
    rows : how many
    next : number to go on from; ask with it for what changes later
    head : number of the register's last fact; the part ends there when `next` has reached it
    not_mapped : failures whose mode has no mechanism
    """

    content: bytes
    rows: int
    next: int
    head: int
    not_mapped: int


def joint_table(
    register: Register, form: TableFormat, since: int = 0, most: int = MOST
) -> JointTable:
    """Joints changed after a fact number, as they are now, each once.

    register : of whoever asks: it holds only the sites they are let into
    form : "csv" or "parquet"
    since : number told as `next` before; 0 for all
    most : facts to look through before the part ends
    Raises InputError: Parquet is asked for and its library is not there.
    """
    head = register.head().seq
    upto = min(head, since + most)
    rows = list(_rows(register, since, upto))
    missing = sum(row[-2] == NOT_MAPPED for row in rows)
    return JointTable(write_columns(form, COLUMNS, rows), len(rows), upto, head, missing)


def _rows(register: Register, since: int, upto: int) -> Iterator[Sequence[Cell]]:
    """The row of each joint whose last fact lies between: later ones come with a later part."""
    sites = {s.site: s.name for s in register.sites()}
    conveyors: dict[UUID, ConveyorNow | None] = {}
    last = since
    while last < upto:
        page = [s for s in register.facts_since(last, _PAGE) if s.seq <= upto]
        if not page:
            return
        there = {s.fact.subject for s in page if s.fact.stream == "joint"}
        changes = register.changes_of(there)
        for stored in page:
            if stored.fact.subject not in there:
                continue
            seq, changed = changes.get(stored.fact.subject, (0, stored.received))
            joint = register.joint(stored.fact.subject) if seq == stored.seq else None
            if joint is None:
                continue
            if joint.conveyor not in conveyors:
                conveyors[joint.conveyor] = register.conveyor(joint.conveyor)
            yield _row(joint, conveyors[joint.conveyor], sites, seq, changed)
        last = page[-1].seq


def _row(
    joint: JointNow,
    conveyor: ConveyorNow | None,
    sites: dict[UUID, str],
    seq: int,
    changed: datetime,
) -> tuple[Cell, ...]:
    life = life_of(joint)
    ended = life is not None and life.fate in {Fate.GOOD, Fate.FAILED}
    failed = None if life is None else life.fate is Fate.FAILED
    mode = life.cause if life is not None and failed else None
    unfit = joint.inspected if joint.can_run is False else None
    end = None
    if ended:
        end = min((m for m in (joint.removed, unfit) if m is not None), default=None)
    where = (str(conveyor.site), sites.get(conveyor.site, "")) if conveyor else ("", "")
    return (
        seq,
        changed,
        str(joint.joint),
        joint.label,
        str(joint.conveyor),
        conveyor.name if conveyor else "",
        *where,
        joint.place,
        joint.construction,
        joint.state.value,
        joint.built,
        joint.put_to_work,
        joint.inspected,
        joint.can_run,
        end,
        float(life.seconds) if life is not None and ended else None,
        failed,
        mode,
        None if mode is None else MECHANISMS.get(mode, NOT_MAPPED),
        _detection(mode, unfit),
    )


def _detection(mode: str | None, unfit: datetime | None) -> str | None:
    if mode is None:
        return None
    if mode == UNFIT or unfit is not None:
        return "inspection"
    return "production interference" if mode in _STOPS else "not known"
