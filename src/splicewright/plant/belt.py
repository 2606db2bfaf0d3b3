"""The belt: size, make-up, strength, stiffness and mass."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from splicewright.quantities import Given, Kind, formula


class Carcass(StrEnum):
    """What carries the tension in the belt."""

    POLYESTER = "EP"
    POLYAMIDE = "NN"
    COTTON = "cotton"
    ARAMID = "aramid"
    SOLID_WOVEN = "solid woven"
    STEEL_CORD = "steel cord"

    @property
    def textile(self) -> bool:
        """Whether plates and bolts can hold in it: not in steel cords."""
        return self is not Carcass.STEEL_CORD


@dataclass(frozen=True, slots=True)
class Belt:
    """The belt as it lies on the conveyor.

    width, thickness, top_cover, bottom_cover [m]; strength: nominal breaking strength per
    width [N/m]; modulus: stiffness per width, force per width at unit strain [N/m];
    line_mass [kg/m]; plies: None when unknown.
    """

    width: Given
    thickness: Given
    top_cover: Given
    bottom_cover: Given
    carcass: Carcass
    plies: int | None
    strength: Given
    modulus: Given
    line_mass: Given
    marking: str = ""


@dataclass(frozen=True, slots=True)
class Marking:
    """What a belt marking says; None for what it leaves out.

    strength [N/m], top_cover and bottom_cover [m], width [m].
    """

    carcass: Carcass
    strength: float
    plies: int | None
    top_cover: float | None
    bottom_cover: float | None
    width: float | None


_CARCASS_SIGNS = {
    "EP": Carcass.POLYESTER,
    "PP": Carcass.POLYAMIDE,
    "NN": Carcass.POLYAMIDE,
    "CC": Carcass.COTTON,
    "ST": Carcass.STEEL_CORD,
    "PVG": Carcass.SOLID_WOVEN,
    "PVC": Carcass.SOLID_WOVEN,
}
_MARKING = re.compile(
    r"""^\s*(?:(?P<width>\d{3,4})\s*(?:mm)?\s*[x\s]\s*)?
    (?P<carcass>EP|PP|NN|CC|ST|PVG|PVC)\s*
    (?P<strength>\d{2,5})\s*(?:/\s*(?P<plies>\d))?\s*
    (?:[,;-]?\s*(?P<top>\d+(?:\.\d+)?)\s*(?:mm)?\s*[+/]\s*(?P<bottom>\d+(?:\.\d+)?)\s*(?:mm)?)?
    (?:\s+[A-Z]{1,2})?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)


_BY_RATING = re.compile(
    r"""^\s*(?P<plies>\d)\s*-?\s*ply\s+(?P<rating>\d{2,4})\s*(?:piw)?
    (?:\s+(?P<top>[\d/. -]+?)\s*(?:in|")?\s*[x+]\s*(?P<bottom>[\d/. -]+?)\s*(?:in|")?)?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)


def marking_refused(text: str) -> str:
    """Why a marking cannot be read and what to write instead, one sentence."""
    rated = _BY_RATING.match(text)
    if rated is None:
        return (
            f'"{text}" cannot be read; accepted is carcass, strength in N/mm, plies, covers in mm, '
            'such as "EP 500/3 5+2"'
        )
    covers = (
        f', top_cover = "{rated["top"].strip()} in", bottom_cover = "{rated["bottom"].strip()} in"'
        if rated["top"]
        else ""
    )
    return (
        f'"{text}" gives a working rating of {rated["rating"]} lbf/in, which is no breaking '
        f"strength: leave marking out and write plies = {rated['plies']}{covers}, and strength = "
        '"..." (N/mm or lbf/in) from the belt\'s papers'
    )


def read_marking(text: str) -> Marking | None:
    """Read a belt marking such as "EP 500/3 5+2" or "1000 ST 1600 8+6"; None if it is none.

    Order by the open standards' designation: width [mm], carcass, strength [N/mm], plies,
    top and bottom cover [mm], cover grade (not read).
    """
    match = _MARKING.match(text)
    if match is None:
        return None
    return Marking(
        carcass=_CARCASS_SIGNS[match["carcass"].upper()],
        strength=float(match["strength"]) * 1e3,
        plies=int(match["plies"]) if match["plies"] else None,
        top_cover=float(match["top"]) / 1e3 if match["top"] else None,
        bottom_cover=float(match["bottom"]) / 1e3 if match["bottom"] else None,
        width=float(match["width"]) / 1e3 if match["width"] else None,
    )


@formula(
    "q_B = ρ_B t B",
    gives=("q_B", Kind.LINE_MASS),
    symbols={"density": "ρ_B", "thickness": "t", "width": "B"},
    source="belt-mass",
    limits="textile belts; steel cord belts are heavier",
)
def line_mass_from_thickness(density: float, thickness: float, width: float) -> float:
    """Mass of a textile belt per metre from its thickness.

    Parameters
    ----------
    density : mean density of carcass and covers [kg/m3]
    thickness : whole belt [m]
    width : belt width [m]

    Returns
    -------
    float, [kg/m]
    """
    return density * thickness * width


@formula(
    "M = k_M σ_N",
    gives=("M", Kind.WIDTH_FORCE),
    symbols={"multiple": "k_M", "strength": "σ_N"},
    source="belt-modulus",
)
def modulus_from_strength(multiple: float, strength: float) -> float:
    """Belt stiffness per width from its nominal strength.

    Parameters
    ----------
    multiple : stiffness over strength [-]
    strength : nominal strength per width [N/m]

    Returns
    -------
    float, force per width at unit strain [N/m]
    """
    return multiple * strength
