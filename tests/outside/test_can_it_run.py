"""Can it run? Three inspections worked by a small model of its own, in N and mm.

Derived here: the edge of a belt whose weft is locked gives way by W/(n π √(E1 G)) in the mode
cos(n π y/W) (separation of variables); the pin is a chain of Hermite beams; each bearing plate is
a spring on its belt. The stiffness of all of it is put together and solved for movements, where
the tool eliminates loads; what pushes is taken off one by one. Margin, largest pull and what opens
plate by plate follow by trying, as a person would. Nothing of the tool's mechanics is used.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from proof import proves
from splicewright.joint import End
from splicewright.joint.inspection.damage import CaseResult, PlateRating, Zipper, can_it_run
from splicewright.joint.inspection.plate_condition import Findings, PlateFinding, lost
from splicewright.joint.loads.hinge import Hinge
from splicewright.joint.loads.membrane import even_row, locked_compliance
from splicewright.joint.loads.meshing import Strip
from splicewright.joint.loads.places import Place
from splicewright.joint.loads.sharing import Guidance
from splicewright.joint.loads.stiffness import Case

pytestmark = proves(
    "Limits of making, and damage",
    "Can it run? Three inspections",
    "B",
    "Lost, worn and slack plates and a torn edge, worked by a small model of its own: Fourier "
    "sum for the belt, beams for the pin, springs for plates.",
    doubt=("The model is by the same hand as the tool but shares no code. Belt with weft locked."),
    tolerance="2e-4 on margin and largest pull",
    sketch="pin",
)


Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

W, N, PITCH, PLATE, OFFSET = 650.0, 10, 60.0, 55.0, 6.0
E1, G, K, PULL = 5000.0, 250.0, 2000.0, 20e3
PIN = 205e3 * np.pi * 9.0**4 / 64
RATED, BREAKING, PEAK, DEPTH = 4e3, 7e3, 1.4, 1.5
SIDE = np.repeat([1.0, -1.0], N)
Y = np.concatenate([OFFSET + PITCH * (4.5 - np.arange(N)), -OFFSET + PITCH * (4.5 - np.arange(N))])


def edge_compliance(y: Array) -> Array:
    """[mm/N] of one end."""
    found = np.zeros((N, N))
    for n in range(1, 6001):
        k = n * np.pi / W
        mean = (np.sin(k * (y + PLATE / 2 + W / 2)) - np.sin(k * (y - PLATE / 2 + W / 2))) / k
        found += 2 / W * W / (n * np.pi * np.sqrt(E1 * G)) * np.outer(mean, mean) / PLATE**2
    return found


BELT = np.block([[edge_compliance(Y[:N]), np.zeros((N, N))],
                 [np.zeros((N, N)), edge_compliance(Y[N:])]])  # fmt: skip


def pin_stiffness() -> tuple[Array, NDArray[np.intp]]:
    """Chain of beams through all plates: movement and slope at each; where each plate is."""
    nodes = np.unique(Y)
    found = np.zeros((2 * len(nodes), 2 * len(nodes)))
    for i, h in enumerate(np.diff(nodes)):
        a, b, c = 6 * h, 4 * h * h, 2 * h * h
        beam = np.array([[12, a, -12, a], [a, b, -a, c], [-12, -a, 12, -a], [a, c, -a, b]])
        found[2 * i : 2 * i + 4, 2 * i : 2 * i + 4] += PIN / h**3 * beam
    return found, 2 * np.searchsorted(nodes, Y)


def loads_with(on: Flags, k: Array, slack: Array, pull: float, swing: float) -> tuple[Array, Array]:
    """Loads of the plates that bear, and by how much each would be stretched beyond its slack."""
    stiff, at = pin_stiffness()
    m = len(stiff)
    system = np.zeros((m + 4, m + 4))
    system[:m, :m] = stiff
    # e = δ - y θ - side w; δ and θ of the leading end, then of the trailing.
    stretch = np.zeros((2 * N, m + 4))
    stretch[np.arange(2 * N), at] = -SIDE
    for end, first in enumerate((m, m + 2)):
        own = slice(end * N, end * N + N)
        stretch[own, first], stretch[own, first + 1] = 1.0, -Y[own]
        if swing > 0:
            system[first + 1, first + 1] = 1 / swing
    spring = np.linalg.inv(BELT[np.ix_(on, on)] + np.diag(1 / k[on]))
    system += stretch[on].T @ spring @ stretch[on]
    right = stretch[on].T @ spring @ slack[on]
    right[[m, m + 2]] += pull
    keep = [i for i in range(m + 4) if swing > 0 or i not in (m + 1, m + 3)]
    moved = np.zeros(m + 4)
    # Pin and both ends may shift together: the shortest of all answers is as good as any.
    moved[keep] = np.linalg.lstsq(system[np.ix_(keep, keep)], right[keep], rcond=1e-14)[0]
    loads = np.zeros(2 * N)
    loads[on] = spring @ (stretch[on] @ moved - slack[on])
    return loads, stretch @ moved - slack - BELT @ loads


def shared(alive: Flags, k: Array, slack: Array, pull: float, swing: float) -> Array:
    on = alive.copy()
    for _ in range(200):
        loads, gap = loads_with(on, k, slack, pull, swing)
        if loads[on].min() < -1e-7:
            on[np.where(on, loads, np.inf).argmin()] = False
        elif (gap[alive & ~on] > 1e-9).any():
            on[np.where(alive & ~on, gap, -np.inf).argmax()] = True
        else:
            return loads
    raise AssertionError("plates go on and off")


def opens(alive: Flags, k: Array, slack: Array, breaking: Array, swing: float) -> bool:
    left = alive.copy()
    # The pull goes through the pin at one place, which lies between the plates left of both ends.
    while (
        left[:N].any()
        and left[N:].any()
        and (
            max(Y[:N][left[:N]].min(), Y[N:][left[N:]].min())
            <= min(Y[:N][left[:N]].max(), Y[N:][left[N:]].max())
        )
    ):
        broken = left & (shared(left, k, slack, PEAK * PULL, swing) > breaking)
        if not broken.any():
            return False
        left &= ~broken
    return True


INSPECTIONS = {
    # Plates 1 and 2 lost on both ends, on the same side of the belt; a third worn on one.
    "same place": (Findings((lost(1), lost(2), PlateFinding(3, 0.7))),
                   Findings((lost(1), lost(2)))),
    # Opposite edges, with a slack plate in the middle.
    "opposite edges": (Findings((lost(1), PlateFinding(5, 1.0, slack=0.6e-3))),
                       Findings((lost(10), PlateFinding(9, 0.5)))),
    # 100 mm torn off at the left: plate 1 stands on nothing, 18.5 of 55 mm of plate 2 are gone.
    "torn edge": (Findings((PlateFinding(6, 0.8),), torn_left=100e-3), Findings((lost(4),))),
}  # fmt: skip


def state(findings: tuple[Findings, Findings]) -> tuple[Flags, Array, Array, Array]:
    """Alive, strength, stiffness [N/mm] and slack [mm] read by hand."""
    strength, slack = np.ones(2 * N), DEPTH * (2 * Y / W) ** 2
    for end, found in enumerate(findings):
        for plate in found.plates:
            strength[end * N + plate.plate - 1] = plate.kept_strength
            slack[end * N + plate.plate - 1] += 1e3 * plate.slack
        for n in range(end * N, end * N + N):
            sound = min(Y[n] + PLATE / 2, W / 2 - 1e3 * found.torn_left) - (Y[n] - PLATE / 2)
            share = float(np.clip(sound / PLATE, 0, 1))
            strength[n] *= share if share >= 0.5 else 0.0
    alive = strength > 0
    return alive, strength, K * np.where(alive, strength, 1.0), slack


def by_the_tool(name: str, swing: float) -> CaseResult:
    strip = Strip(W / 1e3, E1 * 1e3, E1 * 1e3, G * 1e3)
    ends = [replace(locked_compliance(strip, even_row(N, PITCH / 1e3, PLATE / 1e3, way * 6e-3)),
                    swings=True) for way in (1, -1)]  # fmt: skip
    # 1/(N mm) is a thousand times 1/(N m).
    hold = Guidance("by hand", swing * 1e3)
    case = Case("by hand", ends[0], K * 1e3, hold, Hinge(ends[0], ends[1], PIN * 1e-6))
    leading, trailing = INSPECTIONS[name]
    place = Place("flat", PULL / (W / 1e3))
    return can_it_run([case], leading, PlateRating(RATED, BREAKING), [place], trailing=trailing,
                      peak=PEAK, curve_depth=DEPTH / 1e3).typical  # fmt: skip


@pytest.mark.parametrize("swing", [0.0, 4e-10])
@pytest.mark.parametrize("name", INSPECTIONS)
def test_loads_margin_largest_pull_and_what_goes_next(name: str, swing: float) -> None:
    ours = by_the_tool(name, swing)
    alive, strength, k, slack = state(INSPECTIONS[name])
    loads = shared(alive, k, slack, PULL, swing)
    np.testing.assert_allclose(ours.loads, loads, atol=2e-5 * PULL)
    may, breaking = np.where(alive, strength, 1) * RATED, np.where(alive, strength, 1) * BREAKING
    assert ours.margin == pytest.approx(1 / (loads / may).max(), rel=2e-4)

    # The largest pull: upwards in steps of a hundredth until a plate has too much, then halved.
    def over(scale: float) -> bool:
        return bool((shared(alive, k, slack, scale * PULL, swing) > may).any())

    high = next(s for s in np.arange(0.01, 3.0, 0.01) if over(float(s)))
    low = high - 0.01
    for _ in range(20):
        middle = (low + high) / 2
        low, high = (low, middle) if over(middle) else (middle, high)
    assert ours.carries == pytest.approx(low, rel=2e-4)

    at_peak = shared(alive, k, slack, PEAK * PULL, swing)
    worst = int((at_peak / breaking).argmax())
    assert (ours.next_plate, ours.next_end) == (
        worst % N + 1, End.LEADING if worst < N else End.TRAILING
    )  # fmt: skip
    assert ours.next_load == pytest.approx(at_peak[worst], rel=2e-4)

    left, gone = alive.copy(), 0
    while not opens(left, k, slack, breaking, swing):
        used = np.where(left, shared(left, k, slack, PEAK * PULL, swing) / breaking, -1)
        left[used.argmax()] = False
        gone += 1
    assert ours.losses_to_open == gone
    assert ours.zipper is (Zipper.OPENS, Zipper.NEXT, Zipper.HOLDS)[min(gone, 2)]
