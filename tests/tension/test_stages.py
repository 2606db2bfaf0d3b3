"""The force history of the job, by statics: what the clamps take is what the belt lets go.

The incline's numbers as in tests/outside/test_statics.py: 9.81 m/s2, belt 18.125 kg/m, take-up of
5800 kg on two strands.
"""

from __future__ import annotations

import pytest
from splicewright.tension.stages import hoist_travel, low_side, without_friction

from splicewright.loop import lay_out
from splicewright.plant import Conveyor
from splicewright.quantities import Figure, Kind, Worksheet
from splicewright.tension import History, Standing, demand, stages, standing
from strategies import conveyor_of, invented, small_loop, work_of


def told(conveyor: Conveyor, run: str, distance: str) -> tuple[Standing, History]:
    sheet = Worksheet()
    work = work_of(conveyor, work={"run": run, "distance": distance})
    path = lay_out(conveyor, sheet)
    stopped = standing(conveyor, work, path, demand(conveyor, sheet), sheet)
    slack = Figure("slack", "slack", 0.8, Kind.DISTANCE)
    return stopped, stages(conveyor, stopped, slack, sheet)


@pytest.fixture(scope="module")
def job() -> tuple[Standing, History]:
    return told(invented("incline"), "long return", "50 m")


def value(figure: Figure | None) -> float | None:
    return None if figure is None else figure.value


def test_order_of_the_job(job: tuple[Standing, History]) -> None:
    names = [s.name for s in job[1].stages]
    assert names == [
        "Stopped and locked out", "Restraining clamps set",
        "Counterweight lifted, hung and blocked", "Slack drawn to the place", "Cut",
        "Ends drawn together", "Pinned, hoists eased", "Restraining clamps off",
        "Counterweight let down",
    ]  # fmt: skip
    _, screwed = told(conveyor_of(small_loop(drives=[{"name": "d"}])), "back", "20 m")
    assert screwed.stages[2].name.startswith("Counterweight")  # outline's gravity take-up
    loose = conveyor_of(small_loop(drives=[{"name": "d"}], take_up={"kind": "screw"}))
    assert told(loose, "back", "20 m")[1].stages[2].name == "Take-up slacked"


def test_what_acts_when(job: tuple[Standing, History]) -> None:
    stopped, history = job
    by = {s.name: s for s in history.stages}
    for name in ("Stopped and locked out", "Counterweight let down"):
        assert by[name].belt_high.value == stopped.acting.value
        assert by[name].clamp_below is by[name].clamp_above is by[name].hoist is None
    cut = by["Cut"]
    assert cut.belt_high.value == cut.belt_low.value == 0
    assert value(cut.clamp_below) == stopped.hold_below.value
    assert value(cut.clamp_above) == stopped.hold_above.value
    assert cut.hoist is None
    assert value(by["Ends drawn together"].hoist) == stopped.pull_together.value
    assert by["Pinned, hoists eased"].belt_high.value == stopped.released.value
    assert by["Restraining clamps off"].clamp_above is None


def test_friction_either_way(job: tuple[Standing, History]) -> None:
    # As far below the frictionless tension as above it: high - low is twice the friction, by hand
    # that of 6 m out of the take-up and of the whole long return.
    stopped, history = job
    first = history.stages[0]
    assert first.belt_high.value - first.belt_low.value == pytest.approx(2 * stopped.friction.value)
    belt, across = 1250 * 0.0145, (1 - (32.06 / 198) ** 2) ** 0.5
    friction = 0.04 * 9.81 * (6 * 5 + 198 * (5 + belt * across))
    assert stopped.friction.value == pytest.approx(friction, rel=1e-9)
    for stage in history.stages:
        assert 0 <= stage.belt_low.value <= stage.belt_high.value


def test_clamps_over_the_top_pulley() -> None:
    """The upper clamp must hold what hangs over the head, with the drum free to turn."""
    g, belt, load = 9.81, 1250 * 0.0145, 600 / 3.6 / 2
    stopped, history = told(invented("incline"), "long return", "50 m")
    over = g * (belt + load) * 34 + 5800 * g / 2 + stopped.friction.value
    cut = next(s for s in history.stages if s.name == "Cut")
    assert value(cut.clamp_above) == pytest.approx(over, rel=1e-9)
    # On the carry side the empty return belt is what hangs over the top.
    stopped, history = told(invented("incline"), "incline", "200 m")
    held = 5800 * g / 2 + stopped.friction.value
    hangs = g * belt * 34 + held
    above = g * (belt + load) * 34 * (1 - 200 / 210) + held  # load above the cut slides to it
    assert stopped.hold_above.value == pytest.approx(max(hangs, above), rel=1e-9)


def test_single_relations() -> None:
    assert without_friction(900.0, 250.0) == 650
    assert without_friction(100.0, 250.0) == 0
    assert low_side(650.0, 900.0) == 400
    assert low_side(100.0, 900.0) == 0
    # A spring of M B/l beside the slack.
    assert hoist_travel(0.8, 5e3, 120.0, 2e6, 0.8) == pytest.approx(0.8 + 5e3 / (2e6 * 0.8 / 120))


def test_hoists_travel_slack_and_stretch(job: tuple[Standing, History]) -> None:
    stopped, history = job
    conveyor = invented("incline")
    length = sum(r.length.value for r in conveyor.runs())
    soft = conveyor.belt.modulus.low * conveyor.belt.width.value
    expected = 0.8 + stopped.pull_together.value * length / soft
    assert history.hoist_travel.value == pytest.approx(expected, rel=1e-9)
