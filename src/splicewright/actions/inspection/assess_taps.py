"""Can it run? A joint of the register assessed from what a person tapped and typed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from splicewright.errors import Fault, InputError
from splicewright.store.authority import NOT_HERE

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.job.inspection.joined_belt import JoinedBelt
    from splicewright.job.inspection.joint_assessment import JointAssessment
    from splicewright.joint import Candidate, End, Layout
    from splicewright.joint.inspection.seen import Inspection
    from splicewright.quantities import Sentence
    from splicewright.store.present.present import JointNow

Typed = Mapping[str, Sequence[str]]
"""Field -> what was tapped or typed. `leading.3` and `trailing.3` are the states of plates,
counted from the left; the others are named in `read_taps`."""

OK, WORN, CRACKED, LOST = "ok", "worn", "cracked", "lost"
STATES = (OK, WORN, CRACKED, LOST)
"""What a tap goes through, in this order."""
WORN_KEEPS = 0.5
"""Strength a worn plate is taken to keep where nobody judged it; assumption, no source [1]."""
_ROWS = 2000
"""Rows of further findings that are looked at: one for every plate of the widest joint."""
_OWN_FIELDS = {
    "fastener.breaking": "breaking",
    "pin.now": "pin_now",
    "pin.new": "pin_new",
    "edge": "torn_left",
    "edge.torn_left": "torn_left",
    "edge.torn_right": "torn_right",
}


@dataclass(frozen=True, slots=True)
class PlateTapped:
    """One plate with something found, or with more said of it.

    share_kept : of a sound plate's strength; None where nobody judged it [1]
    """

    end: End
    number: int
    state: str
    share_kept: float | None
    bolts_missing: int
    note: str


@dataclass(frozen=True, slots=True)
class PlateTaps:
    """What was tapped and typed, checked.

    plates : those that are not ok or have more said of them, leading end first, from the left
    inspection : the same for the calculation
    worn_keeps : strength that worn plates nobody judged are taken to keep [1]; assumed : whether
        nobody said so
    """

    plates: tuple[PlateTapped, ...]
    inspection: Inspection
    worn_keeps: float
    assumed: bool

    @property
    def anything(self) -> bool:
        """Whether anything was found that could weaken the joint."""
        of = self.inspection
        weak = any(
            p.state != OK or p.share_kept is not None or p.bolts_missing for p in self.plates
        )
        return weak or of.pin_now is not None or of.torn_left > 0 or of.torn_right > 0


@dataclass(frozen=True, slots=True)
class Tapped:
    """A joint that is tapped on: told from others by its key, made when it is first judged.

    key : of its plan or description, such as the plan's digest
    joined : makes the joint with its belt
    """

    key: str
    joined: Callable[[], JoinedBelt] = field(compare=False)


def require_plates(joint: JointNow) -> None:
    """Refuse (InputError) the inspection of a joint that is known to have no plates."""
    if joint.plateless:
        raise InputError(Fault("", f"{joint.label}: {NOT_HERE}"))


def planned_plates(joint: JointNow, plan: JointPlan) -> tuple[Layout, Candidate]:
    """Plates and fastener of a joint's plan; InputError where none was chosen."""
    if plan.layout is None or plan.fastener is None:
        say = f"{joint.label}: no fastener was chosen in its plan, so it has no plates"
        raise InputError(Fault("", f"{say}. Plan it again with a fastener that fits"))
    return plan.layout, plan.fastener


def tapped_by_plan(digest: str, plan: JointPlan) -> Tapped:
    """The joint of a plan with this digest."""

    def joined() -> JoinedBelt:
        from splicewright.job.inspection.joined_belt import joined_by_plan

        return joined_by_plan(plan)

    return Tapped(digest, joined)


def read_taps(typed: Typed, plates: int, name: str, *, invented: bool = False) -> PlateTaps:
    """Read what was tapped and typed.

    typed : states of plates; `worn_keeps`: share that worn plates keep; `pin_now`, `pin_new`,
        `torn_left`, `torn_right`, `breaking`; and in rows `more_end`, `more_plate`, `more_kept`,
        `more_bolts`, `more_note`: what is said of single plates
    plates : of one belt end
    Raises InputError: every fault, its key the field ("more_kept.2": of the second row).
    """
    from splicewright.files.toml import check
    from splicewright.joint.inspection.file import InspectionFile, build

    faults: list[Fault] = []
    states = _tapped(typed, plates, faults)
    rows = _more(typed, plates, faults)
    data, places = _tables(typed, states, rows, name, invented)
    try:
        seen = build(check(data, InspectionFile, ""))
    except InputError as error:
        faults += [replace(f, key=_field(f.key, places), file="", line=None) for f in error.faults]
        raise InputError(*dict.fromkeys(faults)) from None
    if faults:
        raise InputError(*faults)
    keeps, assumed = _worn_keeps(typed, seen)
    taps = []
    for plate in seen.plates:
        assert plate.end is not None  # _tables names it
        row = rows.get((plate.end, plate.number))
        judged = plate.share_kept if row is not None and row[1]["share_kept"] else None
        taps.append(
            PlateTapped(
                plate.end,
                plate.number,
                states.get((plate.end, plate.number), OK),
                judged,
                plate.bolts_missing,
                plate.note,
            )
        )
    return PlateTaps(tuple(taps), seen, keeps, assumed)


def assess_taps(tapped: Tapped, seen: PlateTaps) -> JointAssessment:
    """Judge a joint with what was seen on it.

    What a belt end of it needs is factored at the first question and kept: a further tap costs
    some tenths of a second.

    tapped : a joint of plates
    seen : from `read_taps`, for this joint's number of plates
    Raises InputError: findings that leave no plate or do not fit the joint, its key the field; no
    plates.
    """
    try:
        assessment = _assessed(tapped, seen.inspection)
    except InputError as error:
        keys = {
            f"plates.{n}": f"{p.end.name.lower()}.{p.number}"
            for n, p in enumerate(seen.inspection.plates, 1)
            if p.end is not None
        }
        faults = (
            replace(
                f,
                key=_OWN_FIELDS.get(f.key, keys.get(f.key.rpartition(".")[0], f.key)),
                file="",
                line=None,
            )
            for f in error.faults
        )
        raise InputError(*faults) from None
    if seen.assumed and any(p.state == WORN and p.share_kept is None for p in seen.plates):
        assessment = replace(assessment, assumptions=(worn_assumed(), *assessment.assumptions))
    return assessment


def worn_assumed() -> Sentence:
    """What is taken of worn plates that nobody judged."""
    from splicewright.quantities import Kind, sentence

    return sentence(
        "Worn plates that were not judged are assumed to keep {share} of their strength; "
        "assumption of this tool, no source: judge them.",
        share=(WORN_KEEPS, Kind.SHARE),
    )


def kept_by_state() -> dict[str, float]:
    """Strength a plate is taken to keep by what was tapped, where nobody judged it [1]."""
    from splicewright.joint.inspection.plates_found import kept_strength
    from splicewright.joint.inspection.verdict import PlateState

    return {s: WORN_KEEPS if s == WORN else kept_strength(PlateState(s)) for s in STATES}


@dataclass(frozen=True, slots=True)
class CondensedJoint:
    """A joint for the phone, where it is judged again after every tap, with signal or without.

    numbers : as `job.inspection.condensed` makes them; places : their names
    sound : the same joint with nothing found
    """

    numbers: dict[str, Any]
    places: tuple[str, ...]
    sound: JointAssessment


@lru_cache(maxsize=16)
def condense(tapped: Tapped) -> CondensedJoint:
    """What a phone needs to judge a joint by itself; worked once, kept."""
    from splicewright.job.inspection.condensed import condensed

    joined = _joined(tapped)
    sound = assess_taps(tapped, read_taps({}, joined.plates, "sound"))
    places = tuple(place.name for _, place in joined.places)
    return CondensedJoint(condensed(joined), places, sound)


def warm_up(tapped: Tapped) -> None:
    """Factor what the first question about this joint will need."""
    _joined(tapped).cases()


@lru_cache(maxsize=16)
def _joined(tapped: Tapped) -> JoinedBelt:
    return tapped.joined()


@lru_cache(maxsize=128)
def _assessed(tapped: Tapped, seen: Inspection) -> JointAssessment:
    from splicewright.job.inspection.assessment import assess

    return assess(seen, _joined(tapped))


def _ends() -> dict[str, End]:
    from splicewright.joint import End

    return {which.name.lower(): which for which in End}


def _one(typed: Typed, field_name: str) -> str:
    return next((t.strip() for t in typed.get(field_name, ()) if t.strip()), "")


def looked_at(typed: Typed, plates: int) -> tuple[tuple[End, ...], tuple[tuple[End, int], ...]]:
    """What was looked at: ends of which every plate is said, and good plates of the others.

    A plate is said by a state of its own, or with "all others are good" of its end (`looked`).
    """
    whole, single = [], []
    for word, end in _ends().items():
        numbers = [n for n in range(1, plates + 1) if _one(typed, f"{word}.{n}")]
        if word in typed.get("looked", ()) or len(numbers) == plates:
            whole.append(end)
        else:
            single += [(end, n) for n in numbers if _one(typed, f"{word}.{n}") == OK]
    return tuple(whole), tuple(single)


def unsaid(typed: Typed, plates: int) -> int:
    """Plates of both ends that nobody said anything of."""
    whole, _ = looked_at(typed, plates)
    return sum(
        not _one(typed, f"{word}.{n}")
        for word, end in _ends().items()
        if end not in whole
        for n in range(1, plates + 1)
    )


def _tapped(typed: Typed, plates: int, faults: list[Fault]) -> dict[tuple[End, int], str]:
    """State of each plate that is not ok."""
    states = {}
    for word, end in _ends().items():
        for number in range(1, plates + 1):
            state = _one(typed, f"{word}.{number}") or OK
            if state not in STATES:
                say = f'"{state[:20]}" is not known; accepted is ok, worn, cracked or lost'
                faults.append(Fault(f"{word}.{number}", say))
            elif state != OK:
                states[end, number] = state
    return states


def _more(
    typed: Typed, plates: int, faults: list[Fault]
) -> dict[tuple[End, int], tuple[int, dict[str, Any]]]:
    """What is said of single plates: (end, number) -> (row, keys of the inspection file)."""
    names = ("more_end", "more_plate", "more_kept", "more_bolts", "more_note")
    columns = [[*typed.get(name, ())][:_ROWS] for name in names]
    longest = max(map(len, columns))
    filled = [[t.strip() for t in column] + [""] * (longest - len(column)) for column in columns]
    rows: dict[tuple[End, int], tuple[int, dict[str, Any]]] = {}
    for row, (end, number, kept, bolts, note) in enumerate(zip(*filled, strict=True), 1):
        if not (number or kept or bolts or note):
            continue
        which = _ends().get(end)
        if which is None:
            faults.append(Fault(f"more_end.{row}", "is missing; accepted is leading or trailing"))
        if not (_is_count(number) and 1 <= int(number) <= plates):
            say = f'"{number[:20]}" is no plate of this joint; they are 1 to {plates} from the left'
            faults.append(Fault(f"more_plate.{row}", say))
        if bolts and not _is_count(bolts):
            say = f'"{bolts[:20]}" is no whole number; accepted is 0 or more'
            faults.append(Fault(f"more_bolts.{row}", say))
        if any(fault.key.endswith(f".{row}") for fault in faults) or which is None:
            continue
        if (which, int(number)) in rows:
            say = f"plate {number} of the {which.value} is in two rows; use one row"
            faults.append(Fault(f"more_plate.{row}", say))
            continue
        entry = {"share_kept": kept, "bolts_missing": int(bolts or 0), "note": note[:500]}
        rows[which, int(number)] = row, entry
    return rows


def _is_count(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 4


def _tables(
    typed: Typed,
    states: Mapping[tuple[End, int], str],
    rows: Mapping[tuple[End, int], tuple[int, dict[str, Any]]],
    name: str,
    invented: bool,
) -> tuple[dict[str, Any], list[tuple[str, int]]]:
    """An inspection file's tables, and where each plate's row was typed: field and row."""
    plates, places = [], []
    words = {end: word for word, end in _ends().items()}
    for end, number in sorted({*states, *rows}, key=lambda p: (list(words).index(p[0]), p[1])):
        state, (row, entry) = states.get((end, number), OK), rows.get((end, number), (0, {}))
        table: dict[str, Any] = {"number": number, "end": end.value, "state": state}
        table |= {key: value for key, value in entry.items() if value}
        if state == WORN and "share_kept" not in table:
            table["share_kept"] = _one(typed, "worn_keeps") or f"{100 * WORN_KEEPS:g} %"
        plates.append(table)
        places.append((f"{words[end]}.{number}", row))
    data: dict[str, Any] = {
        "inspection": {"name": name, "invented": invented, "plan": "kept"},
        "plates": plates,
    }
    pin = {k: t for k in ("now", "new") if (t := _one(typed, f"pin_{k}"))}
    if pin.get("new") and not pin.get("now"):
        pin = {}  # the new pin's diameter alone says nothing of wear
    edge = {k: t for k in ("torn_left", "torn_right") if (t := _one(typed, k))}
    breaking = _one(typed, "breaking")
    data |= {"pin": pin} if pin else {}
    data |= {"edge": edge} if edge else {}
    data |= {"fastener": {"breaking": breaking}} if breaking else {}
    return data, places


def _field(key: str, places: Sequence[tuple[str, int]]) -> str:
    """The field of the form where a fault of the file's tables is mended."""
    if key in _OWN_FIELDS:
        return _OWN_FIELDS[key]
    table, _, rest = key.partition(".")
    number, _, name = rest.partition(".")
    if table != "plates" or not number.isdigit():
        return key
    plate, row = places[int(number) - 1]
    columns = {"share_kept": "more_kept", "bolts_missing": "more_bolts", "note": "more_note"}
    if row and name in columns:
        return f"{columns[name]}.{row}"
    return "worn_keeps" if name == "share_kept" else plate


def _worn_keeps(typed: Typed, seen: Inspection) -> tuple[float, bool]:
    """What worn plates keep, and whether nobody said so; readable where any plate needs it."""
    from splicewright.quantities import Kind, read

    text = _one(typed, "worn_keeps")
    if not text:
        return WORN_KEEPS, True
    share = read(text, Kind.SHARE, "worn_keeps")
    if not 0 <= share <= 1:
        raise InputError(Fault("worn_keeps", f'"{text}" is not accepted; accepted is 0 % to 100 %'))
    return share, False
