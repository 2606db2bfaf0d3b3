"""What was seen on a joint in service: the inspection, and what it says of each plate.

People count plates from the left, facing in the direction of travel.
"""

from __future__ import annotations

from splicewright.errors import Fault, InputError
from splicewright.joint.inspection.plate_condition import Findings, PlateFinding, kept_by_bolts
from splicewright.joint.inspection.seen import Inspection
from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.quantities import Kind, Sentence, sentence

CRACKED_SAID = sentence("A cracked plate is taken as lost until somebody judges it.")
BOLTS_SAID = sentence(
    "A plate with bolts missing is taken to keep the share of its bolts that is left, strength and "
    "stiffness alike."
)

PIN_NOW_SAID = "Pin of {now} where it is thinnest, taken as worn so over its whole length."
TORN_END_SAID = "Torn edge without a belt end is taken as being on the {end}."


def findings_of(
    seen: Inspection, end: End, plates: int, bolts: int, pin_new: float | None
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
    plate_findings = []
    for row, plate in enumerate(seen.plates, 1):
        key = f"plates.{row}"
        if (plate.end or End.LEADING) is not end:
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
        kept = kept_strength(plate.state, plate.share_kept) * kept_by_bolts(
            bolts - plate.bolts_missing, bolts
        )
        plate_findings.append(
            PlateFinding(plate.number, kept, slack=plate.slack, what=plate.state.value)
        )
    new = seen.pin_new if seen.pin_new is not None else pin_new
    faults.extend(_pin_faults(seen, new))
    if faults:
        raise InputError(*faults)
    wear = 0.0 if seen.pin_now is None or new is None else new - seen.pin_now
    torn = (seen.torn_right, seen.torn_left) if seen.torn is end else (0.0, 0.0)
    return Findings(tuple(plate_findings), new, wear, *torn)


def kept_strength(state: PlateState, judged: float | None = None) -> float:
    """Share of strength by how a plate was found; a crack nobody judged counts as lost."""
    if judged is not None:
        return judged
    return 1.0 if state is PlateState.OK else 0.0


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


def reading_assumptions(seen: Inspection) -> tuple[Sentence, ...]:
    """What was assumed to read an inspection."""
    assumptions = []
    if any(plate.end is None for plate in seen.plates):
        assumptions.append(
            sentence(
                "Findings without a belt end are taken as being on the leading end, all of "
                "them on the same one."
            )
        )
    if seen.torn is not None and seen.torn_end is None:
        assumptions.append(sentence(TORN_END_SAID.replace("{end}", seen.torn.value)))
    if any(p.state is PlateState.CRACKED and p.share_kept is None for p in seen.plates):
        assumptions.append(CRACKED_SAID)
    if any(p.bolts_missing for p in seen.plates):
        assumptions.append(BOLTS_SAID)
    if seen.pin_now is not None:
        assumptions.append(sentence(PIN_NOW_SAID, now=(seen.pin_now, Kind.LENGTH)))
    return tuple(assumptions)
