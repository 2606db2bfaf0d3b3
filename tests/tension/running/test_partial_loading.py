"""The worst partial loading: every loading tried one by one, and loads laid at random.

Reference: brute force. `forces_with` and `walk` are the same relations, but the loading is
enumerated here, not superposed.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from proof import proves
from splicewright.plant import Conveyor, Run, Side
from splicewright.quantities import Worksheet
from splicewright.tension import ORDINARY, demand, running, worst_loading
from splicewright.tension.running.load_cases import LoadCase
from splicewright.tension.running.run_forces import NO_LOAD, forces_with
from splicewright.tension.running.slip_and_sag import value_of
from splicewright.tension.running.take_up import Anchor, datum
from splicewright.tension.running.walk import drive_shares, walk
from strategies import conveyor_of, loop_file, metres, pulley, run, small_loop


def hills(rises: tuple[float, ...], at: str = "take-up", **changes: Any) -> Conveyor:
    """Carry runs of 40 m with these rises, take-up behind the head or at the tail."""
    lift = sum(rises)
    where = {"take-up": "take-up pulley", "tail": "tail"}[at]
    return conveyor_of(
        loop_file(
            pulley("tail", "tail", loss=1.02),
            *(run(f"c{n}", "carry", "40 m", rise=f"{r} m") for n, r in enumerate(rises, 1)),
            pulley("head", "head", drive="d"),
            run("r1", "return", "30 m", rise=f"{-0.2 * lift} m"),
            pulley("take-up pulley", "take-up", loss=1.03),
            run("r2", "return", f"{40 * len(rises) - 30} m", rise=f"{-0.8 * lift} m"),
            drives=[{"name": "d"}],
            take_up={"kind": "gravity", "mass": "6000 kg", "pulley": where},
            **changes,
        )
    )


def tensions(conveyor: Conveyor, shares: dict[str, float], held: Anchor) -> dict[str, float]:
    """Tension behind every element with these shares of the full load on its carry runs."""
    full = conveyor.material.line_mass
    loads = {
        r.name: full.at(full.value * shares[r.name]) if r.name in shares else NO_LOAD
        for r in conveyor.runs()
    }
    sheet = Worksheet()
    forces = forces_with(conveyor, LoadCase.FULL, loads, sheet, "x")
    walked = walk(conveyor, forces, drive_shares(conveyor, forces, sheet), sheet)
    x = datum(held, conveyor, walked, sheet, "x").value
    found = {}
    for w in walked:
        found[w.element.name] = value_of(w.alpha_out) * x + value_of(w.beta_out)
    return found


def carried(conveyor: Conveyor) -> list[str]:
    return [r.name for r in conveyor.runs() if r.side is Side.CARRY]


few = settings(max_examples=examples(20), deadline=None)


@proves(
    "Tension of the running belt",
    "Worst partial loading by trying every loading",
    "D",
    "Every set of loaded runs is walked one by one and the largest tension at every point is "
    "taken.",
    doubt="Brute force over the same walk: it proves the search, not the resistances.",
    tolerance="rounding of floats: both sides are the same relation written twice",
    sketch="incline",
)
@few
@given(
    st.lists(metres(-6, 6), min_size=2, max_size=5),
    st.sampled_from(["take-up", "tail"]),
    st.booleans(),
)
def test_every_loading_tried(rises: list[float], at: str, backwards: bool) -> None:
    conveyor = hills(tuple(rises), at)
    conveyor = conveyor.turned_round() if backwards else conveyor
    _, held = running(conveyor, ORDINARY, Worksheet())
    found = worst_loading(conveyor, held, Worksheet())
    assert found is not None
    names = carried(conveyor)
    every = [
        (tensions(conveyor, dict(zip(names, on, strict=True)), held))
        for on in itertools.product((0.0, 1.0), repeat=len(names))
    ]
    assert len(every) == 2 ** len(rises)
    for point in found.points:
        assert point.tension.value == pytest.approx(
            max(t[point.name] for t in every), rel=1e-9, abs=1e-6
        )
        # ... and the loading named gives it.
        named = tensions(conveyor, {n: float(n in point.loaded) for n in names}, held)
        assert named[point.name] == pytest.approx(point.tension.value, rel=1e-9, abs=1e-6)
    top = max(max(t.values()) for t in every) / conveyor.belt.width.value
    assert found.largest.value == pytest.approx(top, rel=1e-9)


def pieces(conveyor: Conveyor, count: int) -> Conveyor:
    """Every carry run cut into equal pieces."""
    loop: list[Any] = []
    for e in conveyor.loop:
        if not (isinstance(e, Run) and e.side is Side.CARRY):
            loop.append(e)
            continue
        loop += [
            replace(
                e, name=f"{e.name} {n}", length=replace(e.length, value=e.length.value / count),
                rise=replace(e.rise, value=e.rise.value / count),
            )
            for n in range(count)
        ]  # fmt: skip
    return replace(conveyor, loop=tuple(loop))


@few
@given(
    st.lists(metres(-6, 6), min_size=2, max_size=3), st.sampled_from(["take-up", "tail"]), st.data()
)
def test_no_load_lying_on_part_of_a_run_is_worse(
    rises: list[float], at: str, draw: st.DataObject
) -> None:
    conveyor = hills(tuple(rises), at)
    _, held = running(conveyor, ORDINARY, Worksheet())
    found = worst_loading(conveyor, held, Worksheet())
    assert found is not None
    fine = pieces(conveyor, 4)
    names = carried(fine)
    shares = draw.draw(st.lists(metres(0, 1), min_size=len(names), max_size=len(names)))
    told = tensions(fine, dict(zip(names, shares, strict=True)), held)
    for point in found.points:
        last = point.name if point.name in told else f"{point.name} 3"
        assert told[last] <= point.tension.value * (1 + 1e-9) + 1e-6
    # Nor is it worse anywhere inside a run than at the worst end of any.
    top = max(p.tension.value for p in found.points)
    assert max(told.values()) <= top * (1 + 1e-9)


@few
@given(st.lists(metres(-3, 3), min_size=2, max_size=4))
def test_every_loading_tried_with_the_length_held(rises: list[float]) -> None:
    conveyor = hills(tuple(rises))
    conveyor = replace(
        conveyor,
        take_up=replace(
            conveyor.take_up, kind=type(conveyor.take_up.kind).SCREW, mass=None,
            force=replace(conveyor.take_up.travel, key="take_up.force", value=140e3),
        ),
    )  # fmt: skip
    _, held = running(conveyor, ORDINARY, Worksheet())
    assert held.fixed
    found = worst_loading(conveyor, held, Worksheet())
    assert found is not None
    names = carried(conveyor)
    every = [
        tensions(conveyor, dict(zip(names, on, strict=True)), held)
        for on in itertools.product((0.0, 1.0), repeat=len(names))
    ]
    if min(min(t.values()) for t in every) <= 0:
        return  # something hangs slack: outside what superposition holds for
    for point in found.points:
        assert point.tension.value == pytest.approx(max(t[point.name] for t in every), rel=1e-9)


def test_one_carry_run_has_no_partial_loading() -> None:
    conveyor = conveyor_of(small_loop(drives=[{"name": "x"}]))
    _, held = running(conveyor, ORDINARY, Worksheet())
    assert worst_loading(conveyor, held, Worksheet()) is None


def test_a_valley_is_worst_with_its_falling_run_empty() -> None:
    # Down and up again: the load on the falling run would help the drive.
    conveyor = hills((-8.0, 12.0))
    found = demand(conveyor, Worksheet())
    assert found.worst is not None
    assert found.worst.loaded == ("c2",)
    assert found.worst.where == "c2"
    full = found.case(LoadCase.FULL).largest.value
    assert found.worst.largest.value > full
    assert found.running.value >= found.worst.largest.value
    # The tight side of the worst loading enters the head pulley, and the joint with it.
    head = next(p for p in found.passings if p.pulley == "head")
    assert head.running.value >= found.worst.largest.value * (1 - 1e-12)


def sharing(rises: tuple[float, ...], share: float, force: float = 140e3) -> Conveyor:
    """The same hills with a screw take-up and a second drive at the tail."""
    lift = sum(rises)
    return conveyor_of(
        loop_file(
            pulley("tail", "tail", drive="two", loss=1.0),
            *(run(f"c{n}", "carry", "40 m", rise=f"{r} m") for n, r in enumerate(rises, 1)),
            pulley("head", "head", drive="one"),
            run("r1", "return", "30 m", rise=f"{-0.2 * lift} m"),
            pulley("take-up pulley", "take-up", loss=1.03),
            run("r2", "return", f"{40 * len(rises) - 30} m", rise=f"{-0.8 * lift} m"),
            drives=[{"name": "one", "share": share}, {"name": "two", "share": 1 - share}],
            take_up={"kind": "screw", "force": f"{force} N", "pulley": "take-up pulley"},
        )
    )


@settings(max_examples=examples(6), deadline=None)
@given(st.lists(metres(-3, 3), min_size=1, max_size=2), metres(0.3, 0.7))
def test_a_held_loop_is_worst_where_finer_and_finer_loadings_lead(
    rises: list[float], share: float
) -> None:
    """Runs cut into 1, 3 and 9 pieces, each loaded or not: from below, to the found value.

    Only a piece inside which the sign changes misses something: a triangle of at most b h^2/8,
    with b what the gain changes by along a run and h the piece over the run. The miss must
    therefore fall with the square of the pieces.
    """
    conveyor = sharing(tuple(rises), share)
    _, held = running(conveyor, ORDINARY, Worksheet())
    found = worst_loading(conveyor, held, Worksheet())
    assert found is not None
    scale = max(p.tension.value for p in found.points)
    length = sum(r.length.value for r in conveyor.runs())
    # No slope here exceeds 3 m in 40 m, no friction 0.05: the load pulls with an eighth at most.
    pull = conveyor.material.line_mass.value * 9.81 * 40.0 / 8
    bound = 1.1 * len(rises) * pull * 40.0 / length / 8
    for count in (1, 3, 9):
        fine = pieces(conveyor, count)
        empty = tensions(fine, {}, held)
        if min(empty.values()) <= 0:
            return  # hangs slack: outside what superposition holds for
        alone = [tensions(fine, {n: 1.0}, held) for n in carried(fine)]
        for point in found.points:
            at = point.name if point.name in empty else f"{point.name} {count - 1}"
            worst = empty[at] + sum(max(0.0, t[at] - empty[at]) for t in alone)
            miss = point.tension.value - worst
            assert -1e-9 * scale <= miss <= bound / count**2 + 1e-9 * scale


def test_a_held_loop_with_two_drives_is_worst_loaded_in_part() -> None:
    """The sign of what a piece adds changes inside a run: the run is loaded up to there.

    By hand, all losses 1: a piece at s adds w (S - m(s)) to the tension behind the head, with m
    its part of the mean. With drives at tail and head m runs straight along the carry side.
    """
    conveyor = sharing((2.0,), 0.6)
    _, held = running(conveyor, ORDINARY, Worksheet())
    found = worst_loading(conveyor, held, Worksheet())
    assert found is not None
    [part] = {p.loaded for p in found.points if p.name == "r1"}
    assert part[0].startswith("the first ") or part[0].startswith("the last ")
    assert part[0].endswith(" % of c1")
    full = next(r for r in running(conveyor, (LoadCase.EMPTY, LoadCase.FULL), Worksheet())[0]
                if r.case is LoadCase.FULL)  # fmt: skip
    best = next(p for p in found.points if p.name == "r1").tension.value
    assert best > max(full.at("r1").leaving.value, tensions(conveyor, {}, held)["r1"])
