"""Record a fastener range file for a site, or that the site does not use a range any more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import InMemory

if TYPE_CHECKING:
    from splicewright.joint import Range
    from splicewright.store import Register


def record_fasteners(
    register: Register,
    site: UUID,
    raw: bytes,
    name: str,
    *,
    by: str,
    now: datetime,
    person: UUID | None = None,
    device: str = "",
) -> tuple[Range, bool]:
    """Record a range file; its range is told by the name it gives itself.

    Returns the range, and whether anything was new: the same file again records nothing. Raises
    InputError: the file cannot be used, every fault with key and line; no such site.
    """
    from splicewright.actions.register.kept_files import kept_ranges
    from splicewright.joint import load_range
    from splicewright.store import Fact
    from splicewright.store.facts.plant_facts import FastenersRecorded

    fasteners = load_range(InMemory(name, raw))
    if register.site(site) is None:
        raise InputError(Fault("site", f"the register knows no site {site}"))
    digest = register.keep(raw, "application/toml")
    if any(kept.digest == digest for kept in kept_ranges(register, site)):
        return fasteners, False
    event = FastenersRecorded(site, fasteners.name, digest)
    register.append(Fact(uuid4(), now, by, event, person, device))
    return fasteners, True


def drop_fasteners(
    register: Register,
    site: UUID,
    range_name: str,
    *,
    by: str,
    now: datetime,
    person: UUID | None = None,
    device: str = "",
) -> None:
    """Record that a site does not plan with a range any more; its plans stay as they are.

    Raises InputError: the site does not use it.
    """
    from splicewright.actions.register.kept_files import kept_ranges
    from splicewright.store import Fact
    from splicewright.store.facts.plant_facts import FastenersRecorded

    if all(kept.range.name != range_name for kept in kept_ranges(register, site)):
        raise InputError(Fault("range", f'"{range_name}" is not among the ranges of this site'))
    event = FastenersRecorded(site, range_name, None)
    register.append(Fact(uuid4(), now, by, event, person, device))


@dataclass(frozen=True, slots=True)
class AskedOfSize:
    """One question of a fastener range or of one of its sizes.

    field : its name in the form and in the file; label, hint, example : as a person reads them
    needed : whether the file must have it
    """

    field: str
    label: str
    hint: str = ""
    example: str = ""
    needed: bool = True


_A = AskedOfSize
SIZE_GROUPS: tuple[tuple[str, tuple[AskedOfSize, ...]], ...] = (
    (
        "Which fasteners",
        (
            _A("name", "Name of the range", "a range that is kept already gets one more size"),
            _A("material", "Material of plates and pins", "", "stainless steel"),
        ),
    ),
    (
        "Plates",
        (
            _A("pitch", "Pitch, between plates of one end", "", "43 mm"),
            _A("plate_width", "Plate width", "", "36 mm"),
            _A("plate_length", "Plate length", "pin axis to the back of the plate", "60 mm"),
            _A("thickness", "Belt thickness it is made for", "", "11 to 16 mm"),
            _A("cut_line", "Pin axis to the cut belt end", "", "12 mm"),
            _A(
                "mesh_offset",
                "Offset of the plates of the two ends",
                "about half the pitch",
                "21.5 mm",
            ),
            _A("setback", "Belt edge to the nearest plate", "", "10 to 40 mm"),
            _A("proud_height", "Height of a plate above the cover", "", "6 mm"),
            _A("sets", "Plates in one piece", "single plates, and pieces of 2 or 3", "1, 3"),
        ),
    ),
    (
        "Bolts",
        (
            _A("from_cut", "Bolt row behind the cut", "", "24 mm"),
            _A(
                "across",
                "Bolts across the plate",
                "from its middle, left is minus",
                "-10 mm, 10 mm",
            ),
            _A("hole", "Hole", "", "11 mm"),
            _A("bolt", "Bolt diameter", "", "10 mm"),
            _A(
                "bolt_lengths",
                "Bolt lengths",
                "belt up to: length; next",
                "13 mm: 44 mm; 16 mm: 48 mm",
            ),
            _A("seat_torque", "Tightening torque", "", "38 N m", needed=False),
        ),
    ),
    (
        "Pin and accessories",
        (
            _A("pin", "Pin diameter", "", "10 mm"),
            _A("pin_inset", "Pin shorter than the joint, each side", "", "15 mm"),
            _A("liner_over", "Wear sleeve cut over by", "", "50 mm"),
            _A("seating_over", "Bedding strips cut over by", "", "100 mm"),
        ),
    ),
    (
        "What it carries, by its maker",
        (
            _A("rated_tension", "Rated tension", "", "90 N/mm"),
            _A(
                "starting_tension",
                "Largest tension at starting",
                "left out: the rated one is taken",
                "130 N/mm",
                needed=False,
            ),
            _A("smallest_pulley", "Smallest pulley", "", "500 mm"),
        ),
    ),
)
SIZE_FIELDS = tuple(asked for _, group in SIZE_GROUPS for asked in group)


def range_text(answers: Mapping[str, str], kept: str = "") -> str:
    """The range file of the answers: a new one, or a kept one with one more size at its end.

    answers : typed texts by field, of a hinged range of plates
    kept : the text of the range that is kept under this name; "" for a new range
    Raises InputError: answers that cannot be used: every fault, its key the field.
    """
    from splicewright.files.toml_writing import toml_text
    from splicewright.joint import load_range

    given = {a.field: answers.get(a.field, "").strip() for a in SIZE_FIELDS}
    faults = [
        Fault(a.field, "is missing; it must be given")
        for a in SIZE_FIELDS
        if a.needed and not given[a.field] and not (kept and a.field == "material")
    ]
    size: dict[str, Any] = {
        a.field: given[a.field]
        for _, group in SIZE_GROUPS[1:]
        for a in group
        if given[a.field] and a.field not in {"from_cut", "across", "sets", "bolt_lengths"}
    }
    size["rows"] = [{"from_cut": given["from_cut"], "across": _several(given["across"])}]
    size["bolt_lengths"] = _bolt_lengths(given["bolt_lengths"], faults)
    size["sets"] = _counts(given["sets"], faults)
    if faults:
        raise InputError(*faults)
    whole: dict[str, Any] = {"sizes": [size]}
    if not kept:
        head = {"name": given["name"], "construction": "hinged"}
        whole = {"range": head, "materials": [{"name": given["material"]}], "sizes": [size]}
    text = (f"{kept.rstrip()}\n\n" if kept else "") + toml_text(whole)
    try:
        load_range(InMemory("", text.encode()))
    except InputError as error:
        raise InputError(*(_of_field(fault) for fault in error.faults)) from None
    return text


def _several(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def _bolt_lengths(text: str, faults: list[Fault]) -> list[dict[str, str]]:
    lengths = []
    for pair in text.split(";") if text else ():
        upto, colon, length = pair.partition(":")
        if not (colon and upto.strip() and length.strip()):
            say = f'"{pair.strip()}" is no pair; accepted is as in "13 mm: 44 mm; 16 mm: 48 mm"'
            faults.append(Fault("bolt_lengths", say))
            return []
        lengths.append({"belt_up_to": upto.strip(), "length": length.strip()})
    return lengths


def _counts(text: str, faults: list[Fault]) -> list[int]:
    parts = _several(text)
    if all(part.isascii() and part.isdigit() for part in parts):
        return [int(part[:3]) for part in parts]
    faults.append(Fault("sets", f'"{text}" is no list of whole numbers; accepted is as in "1, 3"'))
    return []


def _of_field(fault: Fault) -> Fault:
    """The fault at the question where it can be mended."""
    parts = [p for p in fault.key.split(".") if not p.isdigit()]
    known = {a.field for a in SIZE_FIELDS}
    field = next((p for p in reversed(parts) if p in known), "")
    field = {"materials": "material", "range": "name"}.get(parts[0] if parts else "", field)
    return Fault(field or fault.key, fault.sentence)
