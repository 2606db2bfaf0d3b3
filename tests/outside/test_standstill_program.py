"""The belt at rest, against a linear program over the loop cut into short pieces.

No published example. Independent solution: SciPy's `linprog` (HiGHS) chooses the tension at every
node, the friction of every piece within its bounds and how full every piece is, subject to the
balance of each piece and to belts that cannot push, so that the tension at the place of work is as
large as it can be. Nothing of the tool's walk, sums or worst spread enters, only its inputs.

Tolerance: 1e-6, the solver's own; pieces end where runs end, so cutting makes no error.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from splicewright.loop import lay_out
from splicewright.plant import Conveyor, Run, Side, Work
from splicewright.quantities import Worksheet
from splicewright.tension import Standing, demand, standing
from splicewright.tension.spread import worst_shares
from strategies import conveyor_of, invented, loop_file, metres, pulley, run, work_of

G, PIECE = 9.81, 2.5


def stopped(conveyor: Conveyor, work: Work) -> Standing:
    sheet = Worksheet()
    path = lay_out(conveyor, sheet)
    return standing(conveyor, work, path, demand(conveyor, sheet), sheet)


def most_at(conveyor: Conveyor, work: Work, take_up: float) -> float:
    """Largest tension at the place that statics allows, the driven pulley locked [N]."""
    rise: list[float] = []
    length: list[float] = []
    load: list[float] = []
    rolls: list[float] = []
    cut: list[bool] = []
    place = driven = start = -1
    for element in conveyor.loop:
        if not isinstance(element, Run):
            node = len(rise)
            start = node if element.name == conveyor.take_up.pulley else start
            driven = node if element.drive else driven
            continue
        ends = [0.0, element.length.value]
        if element.name == work.run:
            ends.insert(1, work.distance.value)
        for a, b in pairwise(ends):
            if element.name == work.run and a == work.distance.value:
                place = len(rise)
            count = max(1, round((b - a) / PIECE))
            for _ in range(count):
                length.append((b - a) / count)
                rise.append(element.rise.value * length[-1] / element.length.value)
                carries = element.side is Side.CARRY
                load.append(conveyor.material.line_mass.value if carries else 0.0)
                rolls.append(element.idlers.line_mass.value)
                cut.append(carries)
    n = len(rise)
    h, s, q, r = (np.array(v) for v in (rise, length, load, rolls))
    across = np.sqrt(np.maximum(s**2 - h**2, 0))
    belt, f = conveyor.belt.line_mass.value, conveyor.method.standing_friction.value
    # Unknowns: tension before each piece (n, closed), friction of each (n), share of load (n).
    balance, right = np.zeros((n, 3 * n)), np.zeros(n)
    bound, top = np.zeros((2 * n + 1, 3 * n)), np.zeros(2 * n + 1)
    for i in range(n):
        balance[i, (i + 1) % n] += 1
        balance[i, i] -= 1
        balance[i, n + i] = -1
        balance[i, 2 * n + i] = -G * q[i] * h[i]
        right[i] = G * belt * h[i]
        for sign, row in ((1, i), (-1, n + i)):
            bound[row, n + i] = sign
            bound[row, 2 * n + i] = -f * G * q[i] * across[i]
            top[row] = f * G * (r[i] * s[i] + belt * across[i])
    bound[2 * n, 2 * n :] = np.where(cut, s, 0.0)
    top[2 * n] = work.load_left.value * s[np.array(cut)].sum()
    # The locked pulley may take any difference: its node has no balance over it.
    balance = np.delete(balance, driven - 1, axis=0)
    right = np.delete(right, driven - 1)
    limits: list[tuple[float | None, float | None]]
    limits = [(0, None)] * n + [(None, None)] * n + [(0, 1)] * n
    limits[start % n] = (take_up, take_up)
    goal = np.zeros(3 * n)
    goal[place] = -1
    found = linprog(goal, A_ub=bound, b_ub=top, A_eq=balance, b_eq=right, bounds=limits)
    assert found.success
    return -float(found.fun or 0.0)


@pytest.mark.parametrize("left", ["0 %", "35 %", "100 %"])
@pytest.mark.parametrize(
    ("place", "distance"), [("long return", "50 m"), ("incline", "105 m"), ("loading run", "20 m")]
)
def test_largest_tension_at_the_place(place: str, distance: str, left: str) -> None:
    conveyor = invented("incline")
    work = work_of(conveyor, work={"run": place, "distance": distance}, belt={"load_left": left})
    tool = stopped(conveyor, work).acting.value
    independent = most_at(conveyor, work, 5800 * G / 2)
    # The tool's friction and weight on the run of the place never fall short of the optimum;
    # friction of the whole run is taken where the place lies inside it.
    assert tool >= independent * (1 - 1e-6)
    assert tool <= independent * 1.12


few = settings(max_examples=25, deadline=None)


@few
@given(
    st.lists(metres(-9, 9), min_size=1, max_size=5),
    st.lists(metres(1, 40), min_size=5, max_size=5),
    metres(0, 1),
)
def test_the_worst_spread_is_the_optimum(
    rises: list[float], lengths: list[float], share: float
) -> None:
    lengths = lengths[: len(rises)]
    room = share * sum(lengths)
    tool = worst_shares(rises, lengths, room)
    found = linprog(
        [-h for h in rises], A_ub=[lengths], b_ub=[room], bounds=[(0, 1)] * len(rises)
    )  # fmt: skip
    assert float(np.sum(tool * rises)) == pytest.approx(-(found.fun or 0.0), rel=1e-7, abs=1e-7)
    assert float(np.sum(tool * lengths)) <= room * (1 + 1e-9) + 1e-9
    both = worst_shares(np.array([rises, rises]), lengths, np.array([room, 0.0]))
    assert both[0] == pytest.approx(tool) and not both[1].any()


@few
@given(
    st.lists(metres(-9, 9), min_size=2, max_size=4),
    st.integers(0, 5),
    metres(0.05, 0.95),
    metres(0, 1),
    st.lists(metres(0, 1), min_size=40, max_size=40),
)
def test_no_load_anywhere_pulls_harder_on_a_clamp(
    rises: list[float], at: int, part: float, left: float, lies: list[float]
) -> None:
    """A strip cut at the place, load strewn at random: what statics wants of each end.

    Walked from the far end with no friction and the drum free, a strand that cannot push wants
    at its clamp the largest sum of weights back from there.
    """
    lift, long = sum(rises), 30.0 * len(rises)
    conveyor = conveyor_of(
        loop_file(
            pulley("tail", "tail"),
            *(run(f"c{n}", "carry", "30 m", rise=f"{r} m") for n, r in enumerate(rises)),
            pulley("head", "head", drive="d"),
            run("back", "return", f"{long} m", rise=f"{-lift} m"),
            drives=[{"name": "d"}],
            take_up={"kind": "gravity", "mass": "2000 kg", "pulley": "tail"},
        )
    )
    runs = conveyor.runs()
    here = runs[at % len(runs)]
    work = work_of(
        conveyor, work={"run": here.name, "distance": f"{part * here.length.value} m"},
        belt={"load_left": left},
    )  # fmt: skip
    found = stopped(conveyor, work)
    pieces = _strip(conveyor, work, left, lies)
    away = {"behind": _wanted(pieces), "ahead": _wanted([-w for w in reversed(pieces)])}
    slack = conveyor.take_up.mass
    assert slack is not None
    spare = slack.value * G / 2
    rising = here.rise.value >= 0
    lower, upper = ("behind", "ahead") if rising else ("ahead", "behind")
    assert away[lower] <= found.hold_below.value - spare + 1e-6 * spare
    assert away[upper] <= found.hold_above.value - spare + 1e-6 * spare


def _strip(conveyor: Conveyor, work: Work, left: float, lies: list[float]) -> list[float]:
    """Weights of pieces from ahead of the cut round to behind it, positive backwards [N]."""
    runs = list(conveyor.runs())
    at = next(n for n, r in enumerate(runs) if r.name == work.run)
    share = work.distance.value / runs[at].length.value
    order = [(runs[at], share, 1.0), *((r, 0.0, 1.0) for r in runs[at + 1 :])]
    order += [*((r, 0.0, 1.0) for r in runs[:at]), (runs[at], 0.0, share)]
    belt, load = conveyor.belt.line_mass.value, conveyor.material.line_mass.value
    room = left * sum(r.length.value for r in runs if r.side is Side.CARRY)
    weights, number = [], 0
    for r, first, last in order:
        for _ in range(6):
            step = (last - first) / 6
            line = belt
            if r.side is Side.CARRY:
                wanted = lies[number % len(lies)]
                filled = min(wanted, room / max(step * r.length.value, 1e-9))
                room -= filled * step * r.length.value
                line += load * filled
            weights.append(G * line * step * r.rise.value)
            number += 1
    return weights


def _wanted(weights: list[float]) -> float:
    """Least tension at the last end of a strand that can nowhere push."""
    most = tension = 0.0
    for w in reversed(weights):
        tension += w
        most = max(most, tension)
    return most
