"""What an inspection found on a joint, turned into what each plate can still do."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from splicewright.errors import Fault, InputError
from splicewright.joint.loads.membrane import PlateRow
from splicewright.quantities import Kind, formula

Array = NDArray[np.float64]

LEAST_HOLD = 0.5
"""A plate with less than this share of its width on sound belt counts as lost; assumption."""
PIN_WORN_SAID = "Worn pin taken as bent between the loops: kept strength (1 - w/d)^3."
TORN_SAID = (
    "Plates with less than half their width on sound belt taken as lost, others cut down by the "
    "share that is torn."
)
SOFTER_SAID = "Damaged plates taken to lose stiffness as they lose strength."


@formula(
    "k_p = (1 - w/d)³",
    gives=("k_p", Kind.SHARE),
    symbols={"wear": "w", "diameter": "d"},
    source="assumption",
    limits="pin worn all round and bent between the loops: the safe side of shear, (1 - w/d)²",
)
def kept_by_pin(wear: float, diameter: float) -> float:
    """Strength a worn hinge pin keeps, 1 down to 0.

    k_p = (1 - w/d)^3, the section modulus of a round pin.

    Parameters
    ----------
    wear : loss of pin diameter at the worst place [m]
    diameter : of the new pin [m]
    """
    return (1 - wear / diameter) ** 3


@formula(
    "k_b = n_left / n",
    gives=("k_b", Kind.SHARE),
    symbols={"left": "n_left", "bolts": "n"},
    source="assumption",
    limits="teeth hold only as long as the bolts clamp them: both go down together",
)
def kept_by_bolts(left: int, bolts: int) -> float:
    """Strength and stiffness a plate keeps when bolts are lost, 1 down to 0.

    k_b = n_left / n

    Parameters
    ----------
    left : bolts that are there and tight [1]
    bolts : bolts of a sound plate [1]
    """
    return left / bolts


@dataclass(frozen=True, slots=True)
class PlateFinding:
    """What was found on one plate.

    Parameters
    ----------
    plate : which, from the left when facing in the direction of travel, from 1
    kept_strength : share of a sound plate's strength that is left, 0 for lost [1]
    kept_stiffness : share of its stiffness; as the strength when left out [1]
    slack : free travel, from a worn loop or a plate that has crept [m]
    what : in the inspector's words
    """

    plate: int
    kept_strength: float
    kept_stiffness: float | None = None
    slack: float = 0.0
    what: str = ""


def lost(plate: int, what: str = "lost") -> PlateFinding:
    """A plate that carries nothing."""
    return PlateFinding(plate, 0.0, what=what)


@dataclass(frozen=True, slots=True)
class Findings:
    """All that was found on a joint.

    Parameters
    ----------
    plates : one entry for every plate that is not sound
    pin_diameter : of the new hinge pin; needed when it is worn [m]
    pin_wear : loss of its diameter at the worst place [m]
    torn_right, torn_left : width of belt torn off or cut through at each side [m]
    """

    plates: tuple[PlateFinding, ...] = ()
    pin_diameter: float | None = None
    pin_wear: float = 0.0
    torn_right: float = 0.0
    torn_left: float = 0.0

    def assumptions(self) -> tuple[str, ...]:
        """What was assumed to read these findings, as sentences."""
        assumptions = []
        if self.pin_wear > 0:
            assumptions.append(PIN_WORN_SAID)
        if self.torn_right or self.torn_left:
            assumptions.append(TORN_SAID)
        if any(p.kept_stiffness is None and 0 < p.kept_strength < 1 for p in self.plates):
            assumptions.append(SOFTER_SAID)
        return tuple(assumptions)


def merged(one: Findings, other: Findings) -> Findings:
    """Findings on both ends of plates that are one piece across the joint: the worse of each.

    For solid plates: what is lost on one end is lost on both.
    """
    plates: dict[int, PlateFinding] = {}
    for finding in (*one.plates, *other.plates):
        before = plates.get(finding.plate)
        if before is not None:
            words = " and ".join(dict.fromkeys(filter(None, (before.what, finding.what))))
            finding = PlateFinding(  # noqa: PLW2901
                finding.plate,
                min(before.kept_strength, finding.kept_strength),
                slack=max(before.slack, finding.slack),
                what=words,
            )
        plates[finding.plate] = finding
    return Findings(
        tuple(plates.values()),
        torn_right=max(one.torn_right, other.torn_right),
        torn_left=max(one.torn_left, other.torn_left),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Condition:
    """Each plate as it is now, left to right; all `(plates,)`.

    Attributes
    ----------
    alive : carries at all
    strength, stiffness : share of a sound plate's [1]
    slack : free travel [m]
    """

    alive: NDArray[np.bool_]
    strength: Array
    stiffness: Array
    slack: Array


@lru_cache(maxsize=64)
def condition(findings: Findings, row: PlateRow, width: float) -> Condition:
    """Turn findings into the state of each plate; kept, and not to be written to.

    Parameters
    ----------
    findings : of the inspection
    row : the plates of the joint
    width : belt width [m]

    Raises
    ------
    InputError
        A plate that is not there or named twice; a share outside 0 to 1; a pin worn through
        or of unknown diameter; a tear as wide as the belt; no plate left. All faults at once.
    """
    faults = [*_plate_faults(findings, len(row)), *_pin_faults(findings)]
    torn = findings.torn_right + findings.torn_left
    if not (findings.torn_right >= 0 and findings.torn_left >= 0 and torn < width):
        faults.append(
            Fault(
                "torn",
                f"{findings.torn_right * 1e3:g} mm right and {findings.torn_left * 1e3:g} mm left "
                f"are not accepted: give 0 mm or more, together less than the belt's "
                f"{width * 1e3:g} mm",
            )
        )
    if faults:
        raise InputError(*faults)
    strength, stiffness = np.ones(len(row)), np.ones(len(row))
    slack = np.zeros(len(row))
    for finding in findings.plates:
        at = finding.plate - 1
        strength[at] = finding.kept_strength
        stiffness[at] = (
            finding.kept_strength if finding.kept_stiffness is None else finding.kept_stiffness
        )
        slack[at] = finding.slack
    half = row.plate_width / 2
    low = np.maximum(row.y - half, -width / 2 + findings.torn_right)
    high = np.minimum(row.y + half, width / 2 - findings.torn_left)
    hold = np.clip((high - low) / row.plate_width, 0.0, 1.0)
    hold[hold > 1 - 1e-9] = 1.0
    hold[hold < LEAST_HOLD] = 0.0
    pin = 1.0
    if findings.pin_wear > 0 and findings.pin_diameter is not None:
        pin = kept_by_pin(findings.pin_wear, findings.pin_diameter)
    strength, stiffness = strength * hold * pin, stiffness * hold
    alive = (strength > 0) & (stiffness > 0)
    if not alive.any():
        raise InputError(
            Fault(
                "plates",
                f"all {len(row)} plates are lost: nothing holds the belt, there is no load to "
                "work out",
            )
        )
    return Condition(alive, strength, stiffness, slack)


def _plate_faults(findings: Findings, plates: int) -> list[Fault]:
    faults = []
    for plate, times in Counter(damage.plate for damage in findings.plates).items():
        if not 1 <= plate <= plates:
            faults.append(
                Fault("plate", f"{plate} is not on this joint: its plates are 1 to {plates}")
            )
        if times > 1:
            faults.append(Fault("plate", f"{plate} is named {times} times: give each plate once"))
    for damage in findings.plates:
        shares = (
            ("kept_strength", damage.kept_strength),
            ("kept_stiffness", 1.0 if damage.kept_stiffness is None else damage.kept_stiffness),
        )
        faults.extend(
            Fault(name, f"{value:g} on plate {damage.plate} is not accepted: give 0 to 1")
            for name, value in shares
            if not 0 <= value <= 1
        )
        if not 0 <= damage.slack < np.inf:
            faults.append(
                Fault(
                    "slack",
                    f"{damage.slack * 1e3:g} mm on plate {damage.plate} is not accepted: give 0 mm "
                    "or more",
                )
            )
    return faults


def _pin_faults(findings: Findings) -> list[Fault]:
    if findings.pin_wear == 0:
        return []
    if findings.pin_diameter is None:
        return [Fault("pin_diameter", "not given: a worn pin needs the diameter of the new one")]
    if not 0 < findings.pin_wear < findings.pin_diameter:
        return [
            Fault(
                "pin_wear",
                f"{findings.pin_wear * 1e3:g} mm is not accepted: give 0 mm or more and less "
                f"than the pin's {findings.pin_diameter * 1e3:g} mm",
            )
        ]
    return []
