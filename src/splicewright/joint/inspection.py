"""What was seen on a joint in service: the inspection, and what it says of each plate.

People count plates from the left, facing in the direction of travel.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from splicewright.errors import Fault, InputError
from splicewright.joint.findings import Findings, PlateFinding, kept_by_bolts
from splicewright.joint.layout import Which
from splicewright.plant import Carcass
from splicewright.quantities import Given, Kind, Sentence, sentence


class State(StrEnum):
    """How a plate was found."""

    SOUND = "sound"
    WORN = "worn"
    CRACKED = "cracked"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class PlateFound:
    """One plate as it was found.

    number : from the left, facing in the direction of travel, from 1
    end : of which belt end; None where nobody wrote it down
    share_kept : of a sound plate's strength [1]; None where nobody judged it
    bolts_missing : lost or loose
    slack : free travel of a worn plate loop [m]
    """

    number: int
    end: Which | None
    state: State
    share_kept: float | None
    bolts_missing: int
    slack: float
    note: str


@dataclass(frozen=True, slots=True)
class TypedJoint:
    """Belt, plates and pull typed in where there is no plan.

    width, pitch, plate_width, pin [m]; strength, modulus, rated, starting_rated, running,
    starting: per width [N/m]; curve_depth [m]. `bolts`: of one plate. `hinged`: else plates are one
    piece across the ends.
    """

    width: float
    carcass: Carcass
    modulus: Given
    plates: int
    pitch: float
    plate_width: float
    bolts: int
    rated: float
    starting_rated: float | None
    pin: float | None
    curve_depth: float
    hinged: bool
    running: float
    starting: float | None


@dataclass(frozen=True, slots=True)
class Inspection:
    """An inspection file, checked for itself.

    plan, work : paths as written, from the inspection file; "" for none
    typed : belt, plates and pull typed in; None when there is a plan
    breaking : pull per width at which sound plates fail; None when not known [N/m]
    pin_new, pin_now : diameters; None when not given [m]
    torn_left, torn_right : width of belt torn off or cut through [m]
    torn_end : the belt end that is torn; None where nobody wrote it down
    """

    name: str
    invented: bool
    plan: str
    work: str
    typed: TypedJoint | None
    breaking: float | None
    plates: tuple[PlateFound, ...]
    pin_new: float | None
    pin_now: float | None
    torn_left: float
    torn_right: float
    torn_end: Which | None
    file: str

    @property
    def torn(self) -> Which | None:
        """The belt end taken as torn; None where none is."""
        if not (self.torn_left or self.torn_right):
            return None
        named = {plate.end or Which.LEADING for plate in self.plates}
        alone = named.pop() if len(named) == 1 else Which.LEADING
        return self.torn_end or alone

    def ends(self) -> tuple[Which, ...]:
        """The belt ends with findings of their own; the leading one when there is none."""
        named = {plate.end or Which.LEADING for plate in self.plates}
        if self.torn is not None:
            named.add(self.torn)
        return tuple(end for end in Which if end in named) or (Which.LEADING,)


def load_inspection(path: Path) -> Inspection:
    """Read an inspection file (TOML).

    Raises
    ------
    InputError
        Anything wrong with the file, every fault with key and line.
    """
    from splicewright.joint.inspection_file import InspectionFile, build
    from splicewright.plant.toml import load, with_lines

    with with_lines(path):
        return build(load(path, InspectionFile), path.name)


def inspection_schema() -> dict[str, Any]:
    """The JSON Schema of an inspection file."""
    from splicewright.joint.inspection_file import InspectionFile

    return InspectionFile.model_json_schema(by_alias=True)


def findings_of(
    seen: Inspection, end: Which, plates: int, bolts: int, pin_new: float | None
) -> Findings:
    """What an inspection found on one belt end, for the plate mechanics.

    Parameters
    ----------
    seen : the inspection
    end : which belt end
    plates : of that end
    bolts : of one plate
    pin_new : diameter of the new pin where the inspection does not say [m]

    Raises
    ------
    InputError
        A plate that is not on the joint, more bolts missing than a plate has, a pin thicker
        than new or of unknown first diameter. All faults at once.
    """
    faults: list[Fault] = []
    made = []
    for row, plate in enumerate(seen.plates, 1):
        key = f"plates.{row}"
        if (plate.end or Which.LEADING) is not end:
            continue
        if plate.number > plates:
            faults.append(
                Fault(
                    f"{key}.number",
                    f"{plate.number} is not on this joint: its plates are 1 to {plates}, counted "
                    "from the left",
                    seen.file,
                )
            )
            continue
        if plate.bolts_missing > bolts:
            faults.append(
                Fault(
                    f"{key}.bolts_missing",
                    f"{plate.bolts_missing} is more than a plate of this joint has: {bolts}",
                    seen.file,
                )
            )
            continue
        kept = _kept(plate) * kept_by_bolts(bolts - plate.bolts_missing, bolts)
        made.append(PlateFinding(plate.number, kept, slack=plate.slack, what=plate.state.value))
    new = seen.pin_new if seen.pin_new is not None else pin_new
    faults.extend(_pin_faults(seen, new))
    if faults:
        raise InputError(*faults)
    wear = 0.0 if seen.pin_now is None or new is None else new - seen.pin_now
    torn = (seen.torn_right, seen.torn_left) if seen.torn is end else (0.0, 0.0)
    return Findings(tuple(made), new, wear, *torn)


def _kept(plate: PlateFound) -> float:
    """Share of strength by how the plate was found; a crack nobody judged counts as lost."""
    if plate.share_kept is not None:
        return plate.share_kept
    return 1.0 if plate.state is State.SOUND else 0.0


def _pin_faults(seen: Inspection, new: float | None) -> list[Fault]:
    if seen.pin_now is None:
        return []
    if new is None:
        return [
            Fault("pin.new", "is missing; a worn pin needs the diameter of the new one", seen.file)
        ]
    if seen.pin_now > new:
        return [
            Fault(
                "pin.now",
                f"{1e3 * seen.pin_now:g} mm is not accepted: a worn pin is no thicker than the "
                f"new one of {1e3 * new:g} mm",
                seen.file,
            )
        ]
    return []


def torn_faults(left: float, right: float, width: float, file: str = "") -> list[Fault]:
    """A tear as wide as the belt, or none; all lengths [m]."""
    torn = left + right
    if torn < width:
        return []
    what = f"{1e3 * torn:g} mm torn in all is not less than the belt's {1e3 * width:g} mm"
    return [Fault("edge", what, file)]


def reading_assumptions(seen: Inspection) -> tuple[Sentence, ...]:
    """What was assumed to read an inspection."""
    said = []
    if any(plate.end is None for plate in seen.plates):
        said.append(
            sentence("Findings without a belt end are taken as being on the leading end, all of "
                     "them on the same one.")
        )  # fmt: skip
    if seen.torn is not None and seen.torn_end is None:
        said.append(
            sentence(f"Torn edge without a belt end is taken as being on the {seen.torn.value}.")
        )
    if any(p.state is State.CRACKED and p.share_kept is None for p in seen.plates):
        said.append(sentence("A cracked plate is taken as lost until somebody judges it."))
    if any(p.bolts_missing for p in seen.plates):
        said.append(
            sentence("A plate with bolts missing is taken to keep the share of its bolts that is "
                     "left, strength and stiffness alike.")
        )  # fmt: skip
    if seen.pin_now is not None:
        said.append(
            sentence("Pin of {now} where it is thinnest, taken as worn so over its whole length.",
                     now=(seen.pin_now, Kind.LENGTH))
        )  # fmt: skip
    return tuple(said)
