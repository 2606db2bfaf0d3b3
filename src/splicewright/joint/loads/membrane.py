"""One belt end as a membrane strip, condensed to the plates that pull on its edge.

Axes: x from the cut edge into the belt, y across from the centreline, positive to the left
when facing in the direction of travel. A plate spreads its pull evenly over its own width of
the edge. What is left of the whole strip is one small matrix: how far the edge gives way
under plate i when plate j pulls.

Two limits stand side by side. `locked_compliance`: nothing lets the belt move sideways, a
closed form. `free_compliance`: the belt's sides are free, finite elements; here the swing of
the whole end is taken out and given back by `sharing.Guidance`, because it depends on what
guides the belt and not on the strip.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from splicewright.errors import Fault, InputError
from splicewright.joint.loads.meshing import Strip
from splicewright.quantities import Kind, formula

if TYPE_CHECKING:
    from splicewright.joint.loads.meshing import Profile

Array = NDArray[np.float64]

MODES = 6000
"""Cosine modes of the closed form; the series falls as 1/n^3, the rest is below 1e-7 of it."""


@dataclass(frozen=True, slots=True)
class PlateRow:
    """The plates of one belt end, left to right when facing in the direction of travel.

    The order is the layout's: plate 1 is the leftmost, with the largest y.

    Parameters
    ----------
    centres : middle of each plate, across from the centreline, from the left [m]
    plate_width : width of a plate along the cut edge [m]
    """

    centres: tuple[float, ...]
    plate_width: float

    def __post_init__(self) -> None:
        if not self.centres:
            raise InputError(Fault("plates", "none given: a joint needs at least one plate"))
        if not (math.isfinite(self.plate_width) and self.plate_width > 0):
            raise InputError(
                Fault("plate_width", f"{self.plate_width:g} is not accepted: give a number above 0")
            )
        gaps = -np.diff(np.asarray(self.centres)) - self.plate_width
        if np.any(gaps < -1e-9 * self.plate_width):
            at = int(np.argmin(gaps)) + 1
            raise InputError(
                Fault(
                    "plates",
                    f"plates {at} and {at + 1} overlap by {-gaps[at - 1] * 1e3:.2f} mm: give "
                    "centres from left to right, at least a plate width apart",
                )
            )

    @property
    def y(self) -> Array:
        """Plate centres `(plates,)` [m]."""
        return np.asarray(self.centres, dtype=np.float64)

    def __len__(self) -> int:
        return len(self.centres)

    def alike(self, other: PlateRow) -> bool:
        """Whether the plates of another row stand in the same places."""
        return len(self) == len(other) and bool(np.allclose(self.y, other.y, rtol=0, atol=1e-7))


def even_row(plates: int, pitch: float, plate_width: float, offset: float = 0.0) -> PlateRow:
    """Plates at one pitch, in the middle of the belt or moved to the left by `offset` [m]."""
    middle = (plates - 1) / 2
    return PlateRow(tuple((middle - i) * pitch + offset for i in range(plates)), plate_width)


@dataclass(frozen=True, slots=True, eq=False)
class EdgeCompliance:
    """All that the plates need to know of the belt behind them.

    Attributes
    ----------
    strip, row : what was condensed
    matrix : edge movement under plate i per pull of plate j, `(plates, plates)` [m/N]; the
        travel of the whole end is left out, the total pull is known instead
    stretches : y-lines of the edge, from side to side, plates and gaps, `(stretches + 1,)` [m]
    transition_lengths : lengths of built-in strain that were asked for [m]
    lift : how far the edge is drawn back under plate i per unit of strain built into stretch
        j over each transition length, `(transitions, plates, stretches)` [m]
    swings : True when the swing of the end was taken out, so that guidance rules it
    unknowns : size of the finite-element model, 0 for the closed form
    """

    strip: Strip
    row: PlateRow
    matrix: Array
    stretches: Array
    transition_lengths: tuple[float, ...]
    lift: Array
    swings: bool
    unknowns: int = field(default=0)

    def drawn_back(self, strain: Array, transition: int = 0) -> Array:
        """Edge movement at the plates from strain `(..., stretches)` built into the belt.

        Returns `(..., plates)` [m], positive where the belt is too short and pulls first.
        """
        moved: Array = np.asarray(strain, dtype=np.float64) @ self.lift[transition].T
        return moved


def mode_compliance(width: float, warp_modulus: float, shear_modulus: float, mode: int) -> float:
    """Movement of the cut edge per line pull, both as cos(n π y / B) [m per N/m].

    c_n = B / (n π √(E G)), from E u_xx + G u_yy = 0 with u falling as exp(-n π √(G/E) x / B).

    Parameters
    ----------
    width : belt width [m]
    warp_modulus, shear_modulus : per width; with a locked weft E is E/(1 - ν ν') [N/m]
    mode : half waves across the belt, from 1 [1]
    """
    return width / (mode * math.pi * math.sqrt(warp_modulus * shear_modulus))


@formula(
    "λ = B/(2π) √(E/G)",
    gives=("λ", Kind.LENGTH),
    symbols={"width": "B", "warp_modulus": "E", "shear_modulus": "G"},
    source="membrane",
    limits="symmetric disturbance, sides free or weft locked, E well above G",
)
def decay_length(width: float, warp_modulus: float, shear_modulus: float) -> float:
    """Length over which an uneven pull across the belt fades to 1/e.

    λ = B/(2π) √(E/G); the St Venant length of a strip that is stiff along and soft in shear.

    Parameters
    ----------
    width : belt width [m]
    warp_modulus, shear_modulus : per width [N/m]
    """
    return width / (2 * math.pi) * math.sqrt(warp_modulus / shear_modulus)


def edge_stretches(strip: Strip, row: PlateRow) -> tuple[Array, NDArray[np.intp]]:
    """Cut the edge into plates and gaps.

    Returns
    -------
    lines : y of the stretch ends, ascending, `(stretches + 1,)` [m]
    plate_at : stretch of each plate, `(plates,)`

    Raises
    ------
    InputError
        A plate hangs over the belt's side.
    """
    half = strip.width / 2
    b = row.plate_width
    near = 1e-6 * strip.width
    over = np.flatnonzero(np.abs(row.y) + b / 2 > half + near)
    if over.size:
        at = int(over[0])
        raise InputError(
            Fault(
                "plates",
                f"plate {at + 1} of {len(row)} at {row.y[at] * 1e3:.1f} mm hangs over the side "
                f"of the {strip.width * 1e3:.0f} mm belt: its outer edge must be within "
                f"{half * 1e3:.1f} mm of the centreline",
            )
        )
    lines = [-half]
    plate_at = []
    for centre in reversed(row.centres):
        if centre - b / 2 > lines[-1] + near:
            lines.append(centre - b / 2)
        plate_at.append(len(lines) - 1)
        lines.append(centre + b / 2)
    if half > lines[-1] + near:
        lines.append(half)
    else:
        lines[-1] = half
    return np.asarray(lines), np.asarray(plate_at[::-1])


def locked_compliance(
    strip: Strip, row: PlateRow, transition_lengths: tuple[float, ...] = (), modes: int = MODES
) -> EdgeCompliance:
    """Condense a long strip whose weft is locked: the guided limit, in closed form.

    C_ij = 2/B Σ c_n φ_in φ_jn, φ_in the mean of cos(n π (y + B/2) / B) over plate i; strain e
    built in over a length l draws the edge back by Σ φ_in e_n (1 - exp(-β_n l)) / β_n with
    β_n = n π √(G/E) / B.

    Parameters
    ----------
    strip, row : belt and plates
    transition_lengths : lengths over which strain is to be built in [m]
    modes : cosines that are summed; a tenth of them leaves 1e-5 [1]

    Raises
    ------
    InputError
        A plate off the belt, or a length below 0.
    """
    _check_lengths(transition_lengths)
    lines, plate_at = edge_stretches(strip, row)
    warp = strip.warp_modulus / strip.coupling
    n = np.arange(1, modes + 1)
    wave = n * math.pi / strip.width
    sine = np.sin(wave * (lines[:, None] + strip.width / 2))
    length = np.diff(lines)
    mean = np.diff(sine, axis=0) / (wave * length[:, None])
    phi = mean[plate_at]
    c = mode_compliance(strip.width, warp, strip.shear_modulus, 1) / n
    matrix = 2 / strip.width * (phi * c) @ phi.T
    beta = wave * math.sqrt(strip.shear_modulus / warp)
    amount = 2 / strip.width * length[:, None] * mean
    lift = [(phi * (-np.expm1(-beta * far) / beta)) @ amount.T for far in transition_lengths]
    return EdgeCompliance(
        strip,
        row,
        _symmetric(matrix),
        lines,
        transition_lengths,
        np.reshape(lift, (len(lift), len(row), len(length))),
        swings=False,
    )


def free_compliance(
    strip: Strip, row: PlateRow, transition_lengths: tuple[float, ...] = (), refine: int = 3
) -> EdgeCompliance:
    """Condense a long strip with free sides by finite elements: the real belt.

    The strip is factored once. Stretch and swing of its far part, 1/(E B) and
    12 y_i y_j/(E B³) per length, are exact and taken out, so the answer does not depend on
    how much belt was meshed.

    Parameters
    ----------
    strip, row : belt and plates
    transition_lengths : lengths over which strain is to be built in [m]
    refine : elements across a plate [1]

    Raises
    ------
    InputError
        A plate off the belt, a length below 0, or `refine` below 1.
    """
    from splicewright.joint.loads.meshing import DECAYS, slowest_decay

    _check_lengths(transition_lengths)
    if refine < 1:
        raise InputError(Fault("refine", f"{refine} is not accepted: give 1 or more"))
    decays, beyond = DECAYS, max(transition_lengths, default=0.0) / slowest_decay(strip)
    if beyond > DECAYS / 2:
        decays += math.ceil(beyond)
    end = _factored(strip, row, refine, decays)
    area, middle = np.diff(end.lines), (end.lines[1:] + end.lines[:-1]) / 2
    lift = []
    for far in transition_lengths:
        drawn = end.profile.built_in_strain(far)
        drawn -= far * area / strip.width
        drawn -= far * 12 / strip.width**3 * np.outer(row.y, area * middle)
        lift.append(drawn)
    return EdgeCompliance(
        strip,
        row,
        end.matrix,
        end.lines,
        transition_lengths,
        np.reshape(lift, (len(lift), len(row), len(area))),
        swings=True,
        unknowns=end.unknowns,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Factored:
    """A belt end after its one factorisation: all that any transition needs of it."""

    lines: Array
    matrix: Array
    profile: Profile
    unknowns: int


@lru_cache(maxsize=24)
def _factored(strip: Strip, row: PlateRow, refine: int, decays: float) -> _Factored:
    """Mesh, assemble, factor and solve; kept, for limits, loads and damage ask one after another.

    Half a megabyte each for two dozen plates.
    """
    from splicewright.joint.loads.meshing import factored_strip, mesh_strip

    lines, plate_at = edge_stretches(strip, row)
    model = mesh_strip(strip, lines, row.plate_width, refine, decays=decays)
    solution = factored_strip(model)(model.edge_loads[:, plate_at].toarray())
    matrix = model.edge_loads[:, plate_at].T @ solution
    matrix -= model.length / (strip.warp_modulus * strip.width)
    matrix -= model.length / strip.bending_stiffness * np.outer(row.y, row.y)
    return _Factored(lines, _symmetric(matrix), model.profile(solution), model.unknowns)


def _check_lengths(lengths: tuple[float, ...]) -> None:
    for far in lengths:
        if not (math.isfinite(far) and far >= 0):
            raise InputError(
                Fault("transition_lengths", f"{far:g} m is not accepted: give 0 m or more")
            )


def _symmetric(matrix: Array) -> Array:
    """Even out the rounding between upper and lower triangle (Maxwell says they are equal)."""
    return (matrix + matrix.T) / 2
