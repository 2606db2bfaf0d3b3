"""Record a conveyor from its file: its site when it is new, then a version of the conveyor."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Literal
from uuid import UUID, uuid4

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import Readable

if TYPE_CHECKING:
    from collections.abc import Mapping

    from splicewright.store import Fact, Register, What


@dataclass(frozen=True, slots=True)
class RecordedConveyor:
    """The conveyor and its site as the register knows them; version of the file, from 1."""

    site: UUID
    conveyor: UUID
    name: str
    version: int
    new: bool


def record_conveyor(
    register: Register,
    file: Readable,
    *,
    by: str,
    now: datetime,
    device: str = "",
    person: UUID | None = None,
    only: UUID | Literal["new"] | None = None,
    seen: Mapping[UUID, int] | None = None,
) -> RecordedConveyor:
    """Record a conveyor file. The same file again records nothing.

    The conveyor is told by its name and its site's name, as the file has them.

    file : conveyor file; it is kept as it is
    by, device, person : who records it, from where, and that person's id
    only : the conveyor it must be a file of, or "new" for one the register does not know yet;
        None takes either
    seen : versions of things that the sender looked at, as in `Register.append`
    Raises InputError: the file cannot be used, names no site, or is of another conveyor than
    `only`.
    """
    from splicewright.loop import lay_out
    from splicewright.plant import load_conveyor
    from splicewright.quantities import Worksheet
    from splicewright.store import Fact
    from splicewright.store.facts.plant_facts import ConveyorRecorded, SiteAdded

    plant = load_conveyor(file)
    if not plant.site.strip():
        say = "is empty; the register needs to know which site the conveyor belongs to"
        raise InputError(Fault("conveyor.site", say, file.name))
    if only is not None and only != "new":
        _refuse_other(register, only, plant.name, plant.site, file.name)
    length = lay_out(plant, Worksheet()).belt_length.value

    def _fact(event: What) -> Fact:
        return Fact(uuid4(), now, by, event, person, device)

    facts: list[Fact] = []
    site = next((s.site for s in register.sites() if s.name == plant.site), None)
    if site is None:
        site = uuid4()
        facts.append(_fact(SiteAdded(site, plant.site)))
    there = next((c for c in register.conveyors(site) if c.name == plant.name), None)
    if only == "new" and there is not None:
        say = f"{plant.name!r} is recorded at {plant.site!r} already; give its next version there"
        raise InputError(Fault("conveyor.name", say, file.name))
    digest = register.keep(file.read_bytes(), "application/toml")
    if there is not None and there.file == digest:
        return RecordedConveyor(site, there.conveyor, there.name, there.file_version, new=False)
    conveyor = there.conveyor if there is not None else uuid4()
    recorded = ConveyorRecorded(conveyor, site, plant.name, digest, length, plant.speed.value)
    register.append(*facts, _fact(recorded), seen=seen)
    version = there.file_version + 1 if there is not None else 1
    return RecordedConveyor(site, conveyor, plant.name, version, new=True)


def _refuse_other(register: Register, only: UUID, name: str, site: str, file: str) -> None:
    """Refuse a file that is of another conveyor."""
    wanted = register.conveyor(only)
    if wanted is None:
        raise InputError(Fault("conveyor", f"the register knows no conveyor {only}"))
    there = register.site(wanted.site)
    called = (wanted.name, there.name if there is not None else "")
    if (name, site) != called:
        say = (
            f"the file is of {name!r} at {site!r}; accepted is a file of {called[0]!r} at "
            f"{called[1]!r}"
        )
        raise InputError(Fault("conveyor.name", say, file))
