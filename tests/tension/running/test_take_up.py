"""What the take-up holds, against the loop of springs and against SciPy's solution of it.

A screw keeps the length of the loop: the belt, cut into many short springs whose tensions
balance at every joint, must come out as long in every load case as it was when it was set.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.optimize import root

from proof import proves
from simulation.elastic_loop import fixed_take_up, stretch_of_loop
from splicewright.plant import Conveyor, Run
from splicewright.quantities import Worksheet
from splicewright.tension import ORDINARY, LoadCase, Running, applicable, running
from splicewright.tension.running.take_up import belt_on
from strategies import conveyor_of, loop_file, pulley, run

pytestmark = proves(
    "Loop and take-up",
    "A screw keeps the length of its loop in every load case",
    "B",
    "The belt cut into many short springs between two pulleys: as long in every load case "
    "as it was when the screw was set, by a loop of springs of its own and by SciPy's root "
    "finder.",
    doubt="The loop of springs is a program of our own that knows none of the formulas; SciPy's "
    "solver to 1e-10.",
    tolerance="1e-9 against the loop of springs, 1e-6 against SciPy on springs of finite length",
    sketch="take-up",
)


def screw(force: str | None = "60 kN", kind: str = "screw", **changes: Any) -> Conveyor:
    held = {"kind": kind, "pulley": "tail", **({"force": force} if force else {})}
    return conveyor_of(
        loop_file(
            pulley("tail", "tail", loss=1.03),
            run("flat", "carry", "50 m", rise="0 m"),
            run("up", "carry", "70 m", rise="6 m"),
            pulley("head", "head", drive="d", wrap="200 deg"),
            pulley("snub", "snub", wrap="20 deg", loss=1.01),
            run("back", "return", "120 m", rise="-6 m"),
            drives=[{"name": "d", "power": "45 kW", "brake": True}],
            take_up=held,
            **changes,
        )
    )


def lengths(conveyor: Conveyor) -> np.ndarray[Any, np.dtype[np.float64]]:
    made = {e.name: belt_on(conveyor, e) for e in conveyor.loop}
    return np.array([made[e.name] for e in walked(conveyor)])


def walked(conveyor: Conveyor) -> list[Any]:
    """The loop from behind the drive, as the points of a result are ordered."""
    loop = list(conveyor.loop)
    last = max(n for n, e in enumerate(loop) if not isinstance(e, Run) and e.drive)
    return [*loop[last + 1 :], *loop[: last + 1]]


def ends(result: Running) -> tuple[list[float], list[float]]:
    return [p.entering.value for p in result.points], [p.leaving.value for p in result.points]


def stretch(conveyor: Conveyor, result: Running) -> float:
    entering, leaving = ends(result)
    if result.case is LoadCase.BLOCKED:  # stuck load pulls at the very end of its run
        stuck = next(f for f in result.forces if f.surplus is not None)
        assert stuck.surplus is not None
        leaving[[p.name for p in result.points].index(stuck.run)] -= stuck.surplus.value
    modulus, width = conveyor.belt.modulus.value, conveyor.belt.width.value
    return float(stretch_of_loop(lengths(conveyor), entering, leaving, modulus, width))


@pytest.mark.parametrize("kind", ["screw", "winch"])
def test_the_loop_keeps_its_length_in_every_case(kind: str) -> None:
    conveyor = screw(kind=kind)
    results, held = running(conveyor, applicable(conveyor), Worksheet())
    assert held.fixed
    assert len(results) >= 5
    first = stretch(conveyor, results[0])
    for result in results:
        assert min(ends(result)[1]) > 0
        assert stretch(conveyor, result) == pytest.approx(first, rel=1e-9)


def test_it_was_set_with_the_belt_running_empty() -> None:
    results, _ = running(screw("60 kN"), ORDINARY, Worksheet())
    empty = next(r for r in results if r.case is LoadCase.EMPTY)
    at = empty.at(screw("60 kN").take_up.pulley)  # both strands together carry the screws' pull
    assert at.entering.value + at.leaving.value == pytest.approx(60e3, rel=1e-9)
    full = next(r for r in results if r.case is LoadCase.FULL)
    assert full.take_up.value < empty.take_up.value  # the tight side takes the belt there is


def test_each_case_as_the_elastic_loop_alone() -> None:
    conveyor = screw()
    results, _ = running(conveyor, ORDINARY, Worksheet())
    wanted = stretch(conveyor, results[0])
    for result in results:
        alpha, a_in, a_out, b_in, b_out = 1.0, [], [], [], []
        beta = 0.0
        forces = {f.run: f.total.value for f in result.forces}
        for e in walked(conveyor):
            a_in.append(alpha)
            b_in.append(beta)
            if isinstance(e, Run):
                beta += forces[e.name]
            elif e.drive:
                beta -= result.pull.value
            else:
                alpha, beta = alpha * e.loss.value, beta * e.loss.value
            a_out.append(alpha)
            b_out.append(beta)
        found = fixed_take_up(
            stretch=wanted, modulus=conveyor.belt.modulus.value,
            width=conveyor.belt.width.value, lengths=lengths(conveyor), alpha_in=a_in,
            alpha_out=a_out, beta_in=b_in, beta_out=b_out,
        )  # fmt: skip
        assert result.behind_drive.value == pytest.approx(float(found.level), rel=1e-9)
        assert [p.leaving.value for p in result.points] == pytest.approx(list(found.leaving))


def test_full_belt_by_scipy_on_a_loop_of_short_springs() -> None:
    """Unknowns: tension of each of 30 springs a run, and of each pulley's two sides.

    Equations: balance at every joint (each spring takes its part of its run's force; pulleys
    their factor), and one for the length. Nothing of the walk alpha X + beta is used.
    """
    conveyor, parts = screw(), 30
    results, _ = running(conveyor, ORDINARY, Worksheet())
    wanted = stretch(conveyor, results[0])
    full = results[1]
    forces = {f.run: f.total.value for f in full.forces}
    stiff = conveyor.belt.modulus.value * conveyor.belt.width.value
    pieces: list[tuple[str, float, float]] = []  # kind or factor, length, force
    for e in walked(conveyor):
        if isinstance(e, Run):
            pieces += [("run", e.length.value / parts, forces[e.name] / parts)] * parts
        elif e.drive:
            pieces.append(("run", belt_on(conveyor, e), -full.pull.value))
        else:
            pieces.append((f"{e.loss.value}", belt_on(conveyor, e), 0.0))

    def misses(t: Any) -> list[float]:
        left, length = [], 0.0
        for n, (kind, own, force) in enumerate(pieces):
            here, there = t[n], t[n + 1]
            left.append(there - (here + force if kind == "run" else float(kind) * here))
            length += own * (here + there) / 2 / stiff
        return [*left, (length - wanted) * 1e6]

    solved = root(misses, np.full(len(pieces) + 1, 20e3), method="hybr")
    assert solved.success
    assert full.behind_drive.value == pytest.approx(solved.x[0], rel=1e-6)
    assert full.largest.value == pytest.approx(max(solved.x) / conveyor.belt.width.value, rel=1e-6)


def test_a_screw_set_too_loose_hangs_and_the_tight_side_keeps_the_pull() -> None:
    conveyor = screw("2 kN")
    full = running(conveyor, ORDINARY, Worksheet())[0][1]
    entering, leaving = ends(full)
    assert min(*entering, *leaving) == pytest.approx(0, abs=1e-6)
    head = full.at("head")
    assert head.entering.value - head.leaving.value == pytest.approx(full.pull.value)


def test_unknown_screw_is_set_so_that_every_ordinary_case_holds() -> None:
    conveyor = screw(None)
    results, held = running(conveyor, applicable(conveyor), Worksheet())
    assert held.fixed
    ordinary = [r for r in results if r.case.steady or r.case.transient]
    assert all(r.grip_kept and r.sag_kept for r in ordinary)


def test_gravity_holds_its_pull_in_every_case() -> None:
    conveyor = conveyor_of(
        loop_file(
            pulley("tail", "tail"),
            run("up", "carry", "120 m", rise="10 m"),
            pulley("head", "head", drive="d"),
            run("back", "return", "120 m", rise="-10 m"),
            drives=[{"name": "d", "power": "75 kW", "brake": True, "holdback": True}],
            take_up={"kind": "gravity", "mass": "3000 kg", "pulley": "tail"},
        )
    )
    for result in running(conveyor, applicable(conveyor), Worksheet())[0]:
        assert result.take_up.value == pytest.approx(3000 * 9.81 / 2, rel=1e-9)
