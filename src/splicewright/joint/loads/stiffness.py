"""What is assumed where nobody measured: belt and plate stiffness, always as a range.

A maker states the stiffness along the belt at most. Across and in shear there is next to no
published value, nor for the movement of a plate under its pull. So every result on plate
loads is worked at the ends of these ranges and shown as a range.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from splicewright.errors import Fault, InputError
from splicewright.joint.loads.hinge import Hinge, pin_bending, turned, with_turned_end
from splicewright.joint.loads.membrane import EdgeCompliance, PlateRow, free_compliance
from splicewright.joint.loads.meshing import Strip
from splicewright.joint.loads.sharing import Guidance, guided, straightened, unguided
from splicewright.plant.belt import Carcass
from splicewright.quantities import Given, Kind, assumed, formula

Range = tuple[float, float, float]
"""Low, typical and high."""


@dataclass(frozen=True, slots=True)
class Texture:
    """Stiffness of a carcass as shares of its warp stiffness, low, typical and high.

    Attributes
    ----------
    weft : across the belt over along it [1]
    shear : in shear over along it [1]
    """

    weft: Range
    shear: Range


TEXTURES: Mapping[Carcass, Texture] = {
    Carcass.POLYESTER: Texture((0.15, 0.3, 0.6), (0.02, 0.05, 0.1)),
    Carcass.POLYAMIDE: Texture((0.3, 0.6, 1.0), (0.03, 0.08, 0.15)),
    Carcass.COTTON: Texture((0.3, 0.5, 0.8), (0.05, 0.1, 0.2)),
    Carcass.ARAMID: Texture((0.05, 0.15, 0.3), (0.005, 0.015, 0.04)),
    Carcass.SOLID_WOVEN: Texture((0.2, 0.4, 0.7), (0.03, 0.08, 0.15)),
    Carcass.STEEL_CORD: Texture((0.002, 0.01, 0.05), (0.0005, 0.001, 0.003)),
}
"""Assumption of this tool, from memory of cloth and rubber; no published value was found."""

PLATE_MOVEMENT: Range = (0.5e-3, 1.0e-3, 3.0e-3)
"""Movement of a plate against the belt under its full rating [m]; assumption of this tool."""

PIN_OF_WIRES = 0.01
"""Bending stiffness of a pin of wires over that of a solid one as thick: a hundred wires that
slide on each other bend as themselves alone; assumption of this tool [1]."""

PIN_OVER_PITCH = 0.22
"""Diameter of a hinge pin over the pitch of the plates where nobody knows it; assumption of this
tool [1]."""

REFINE = 1
"""Elements across a plate: the worst plate moves by 0.4 % against three of them, the ranges of
what is assumed by ten times as much and more."""

_LEVELS = ("soft", "typical", "stiff")


@formula(
    "k = F_R / s_R",
    gives=("k", Kind.WIDTH_FORCE),
    symbols={"rating": "F_R", "movement": "s_R"},
    source="assumption",
    limits="springs are taken as linear up to the rating",
)
def plate_stiffness(rating: float, movement: float) -> float:
    """Stiffness of one plate from its movement under its rating.

    k = F_R / s_R

    Parameters
    ----------
    rating : pull one plate may carry [N]
    movement : how far it moves against the belt under that pull [m]
    """
    return rating / movement


def assumed_plate_stiffness(rating: float) -> Given:
    """Stiffness of one plate when nobody has pulled one [N/m], with its range."""
    low, typical, high = sorted(plate_stiffness(rating, s) for s in PLATE_MOVEMENT)
    return assumed(
        "plate.stiffness",
        "stiffness of one plate",
        typical,
        Kind.WIDTH_FORCE,
        "no pull test known: a plate is taken to move 0.5 to 3 mm, typically 1 mm, at its rating",
        (low, high),
    )


def assumed_strips(width: float, warp: Given, carcass: Carcass) -> tuple[Strip, Strip, Strip]:
    """The belt at the soft end, as typical, and at the stiff end of what is plausible.

    Parameters
    ----------
    width : belt width [m]
    warp : belt stiffness along, with its own range [N/m]
    carcass : what carries the tension; weft and shear follow by `TEXTURES`. Narrowing of a
        stretched belt is left out: it moved the worst plate by under 0.5 % in trials
    """
    texture = TEXTURES[carcass]
    moduli = (warp.low, warp.value, warp.high)
    soft, typical, stiff = (
        Strip(width, m, m * weft, m * shear)
        for m, weft, shear in zip(moduli, texture.weft, texture.shear, strict=True)
    )
    return soft, typical, stiff


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One full set of assumptions under which plate loads are worked.

    With a hinge both belt ends and the pin are one system, and `edge` is the leading end.
    """

    name: str
    edge: EdgeCompliance
    plate_stiffness: float
    guidance: Guidance | None
    hinge: Hinge | None = None


_condensed = lru_cache(maxsize=96)(free_compliance)
"""A belt and layout are factored once, however many questions are asked of them; six of them
stand behind one joint, some 100 kB each."""

_turned = lru_cache(maxsize=96)(turned)
"""One turned end for each, so that what is worked from it is found again."""


def spread_cases(
    strips: Sequence[Strip],
    row: PlateRow,
    plate: Given,
    total_force: float,
    transition_lengths: tuple[float, ...] = (),
    refine: int = 3,
) -> tuple[Case, ...]:
    """All combinations of belt, plate stiffness and guidance that the results must cover.

    Parameters
    ----------
    strips : the belt soft, typical and stiff; or one, when it was measured
    row : the plates
    plate : stiffness of a plate with its range [N/m]
    total_force : pull that straightens the belt where nothing else does [N]
    transition_lengths : lengths over which strain is to be built in [m]
    refine : elements across a plate; against 3 of them, 2 moved the worst plate by
        0.1 % and 1 by 0.4 % in trials [1]

    Returns
    -------
    The typical case (typical belt and plate, straightened by its own pull) first

    Raises
    ------
    InputError
        Neither one strip nor three.
    """
    belts = _belts(strips, row, transition_lengths, refine)
    cases = [
        Case(f"belt {belt}, plates {level}, {hold.name}", edge, k, hold)
        for (belt, edge), (level, k) in itertools.product(belts, _levels(plate).items())
        for hold in (guided(edge.strip), straightened(edge.strip, total_force), unguided())
    ]
    return _typical_first(cases, belts, plate)


def pins(diameter: float) -> dict[str, float]:
    """Bending stiffness of the pins that may be in a joint, the typical first [N m2].

    Parameters
    ----------
    diameter : of the pin where it is thinnest [m]
    """
    solid = pin_bending(diameter)
    return {"solid pin": solid, "pin of wires": PIN_OF_WIRES * solid}


def hinged_cases(
    strips: Sequence[Strip],
    rows: tuple[PlateRow, PlateRow],
    plate: Given,
    total_force: float,
    pin: Mapping[str, float],
    transition_lengths: tuple[float, ...] = (),
    refine: int = 3,
) -> tuple[Case, ...]:
    """As `spread_cases`, with both ends and the pin between them as one system.

    Parameters
    ----------
    strips, plate, total_force, transition_lengths, refine : as for `spread_cases`
    rows : plates of the leading and of the trailing end
    pin : bending stiffness by name, the typical first [N m2]
    """
    belts = _belts(strips, rows[0], transition_lengths, refine)
    cases = []
    for belt, edge in belts:
        other = _turned(edge)
        if not other.row.alike(rows[1]):
            other = _condensed(edge.strip, rows[1], transition_lengths, refine)
        holds = (guided(edge.strip), straightened(edge.strip, total_force), unguided())
        hinges = {name: Hinge(edge, other, bending) for name, bending in pin.items()}
        cases += [
            Case(f"belt {belt}, plates {level}, {hold.name}, {name}", edge, k, hold, hinge)
            for level, k in _levels(plate).items()
            for hold in holds
            for name, hinge in hinges.items()
        ]
    return _typical_first(cases, belts, plate)


def sound_cases(
    strips: Sequence[Strip],
    row: PlateRow,
    plate: Given,
    pin: Mapping[str, float],
    transition_lengths: tuple[float, ...] = (),
    refine: int = 3,
) -> tuple[Case, ...]:
    """As `hinged_cases` for a joint whose ends are alike: one end stands for both.

    The trailing end is the leading one turned by half a turn, so the joint does not swing and
    side guidance changes nothing.
    """
    belts = _belts(strips, row, transition_lengths, refine)
    cases = [
        Case(f"belt {belt}, plates {level}, {name}", with_turned_end(edge, bending), k, unguided())
        for (belt, edge), (level, k) in itertools.product(belts, _levels(plate).items())
        for name, bending in pin.items()
    ]
    middle = len(belts) // 2 * len(_levels(plate)) * len(pin)
    middle += list(_levels(plate)).index("typical") * len(pin)
    return (cases[middle], *cases[:middle], *cases[middle + 1 :])


def _belts(
    strips: Sequence[Strip], row: PlateRow, lengths: tuple[float, ...], refine: int
) -> list[tuple[str, EdgeCompliance]]:
    if len(strips) not in (1, 3):
        raise InputError(
            Fault(
                "strips", f"{len(strips)} given: give one measured belt, or soft, typical and stiff"
            )
        )
    edges = [_condensed(strip, row, lengths, refine) for strip in strips]
    return list(zip(_LEVELS if len(edges) == 3 else ("measured",), edges, strict=True))


def _levels(plate: Given) -> dict[str, float]:
    if plate.low < plate.high:
        return {"soft": plate.low, "typical": plate.value, "stiff": plate.high}
    return {"typical": plate.value}


def _typical_first(
    cases: Sequence[Case], belts: Sequence[tuple[str, EdgeCompliance]], plate: Given
) -> tuple[Case, ...]:
    middle = next(
        i
        for i, case in enumerate(cases)
        if case.plate_stiffness == plate.value
        and case.edge is belts[len(belts) // 2][1]
        and case.guidance is not None
        and case.guidance.name.startswith("straightened")
    )
    return (cases[middle], *cases[:middle], *cases[middle + 1 :])
