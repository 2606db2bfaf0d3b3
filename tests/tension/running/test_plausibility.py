"""What does not fit together is said, and only then; what cannot be is refused by its name."""

from __future__ import annotations

import math
from typing import Any

import pytest

from splicewright.errors import InputError
from splicewright.loop import lay_out
from splicewright.plant import Conveyor
from splicewright.quantities import Worksheet
from splicewright.tension import demand
from strategies import conveyor_of, invented, loop_file, outline, published, pulley, run


def findings(conveyor: Conveyor) -> str:
    return "\n".join(str(s) for s in demand(conveyor, Worksheet()).findings)


def with_power(name: str, power: str) -> Conveyor:
    """A published conveyor with the motor that its printed pull would want."""
    import tomllib
    from pathlib import Path

    folder = Path(__file__).parents[3] / "examples" / "published" / "conveyors"
    told = tomllib.loads((folder / f"{name}.toml").read_text("utf-8"))
    told["drives"] = [{"name": "drive", "power": power, "efficiency": 1.0}]
    return conveyor_of(told)


def test_w9_a_pull_below_its_own_lift_is_said() -> None:
    """Bottom ash sheet: printed total 17 822 N at 2.84 m/s; the lift alone takes 22 288 N."""
    lift = 93.912 * 9.81 * 100 * math.sin(math.radians(14))
    assert lift == pytest.approx(22288, abs=1)
    told = findings(with_power("bottom-ash-960", f"{17822 * 2.84} W"))
    assert "The motors give 17.8 kN at rated power, less than the 22.3 kN that lifting" in told
    fitting = findings(with_power("bottom-ash-960", f"{1.5 * lift * 2.84} W"))
    assert "lifting the load" not in fitting


def test_w1_a_stale_volume_flow_is_said() -> None:
    """1800 t/h at 950 kg/m3 is 0.5263 m3/s; the sheet carries 0.1556 from another case."""
    told = findings(published("sheet-coal-1800"))
    assert "the volume flow 560 m3/h does not follow from mass flow and density" in told
    assert "1895 m3/h" in told


def course_work(power: str, **changes: Any) -> Conveyor:
    """28 kW at 1.6 m/s with efficiency 0.8: about 14 kN at the drum."""
    return conveyor_of(
        outline(
            conveyor={"speed": "1.6 m/s"},
            drives=[{"name": "drive", "power": power, "efficiency": 0.8}],
            **changes,
        )
    )


@pytest.mark.parametrize(
    ("power", "word"), [("28 W", "small"), ("28000 kW", "")], ids=["W for kW", "too large a motor"]
)
def test_w16_a_unit_a_thousand_times_off_is_named(power: str, word: str) -> None:
    if not word:  # beyond what any motor is: refused where it stands
        with pytest.raises(InputError, match=r"drives\.0\.power|drives\.1\.power"):
            course_work(power)
        return
    told = findings(course_work(power))
    assert f"Motor power, drive: 0.028 kW is about a thousand times too {word}; the rest of" in told
    assert "check its unit (drives.1.power)" in told
    assert "thousand" not in findings(course_work("28 kW"))


def test_a_take_up_a_thousand_times_too_weak_is_named() -> None:
    told = findings(course_work("28 kW", take_up={"kind": "screw", "force": "20 N"}))
    assert "Force of the take-up on its pulley: 0.02 kN is about a thousand times too small" in told
    told = findings(course_work("28 kW", take_up={"kind": "gravity", "mass": "3 kg"}))
    assert "Counterweight with pulley and frame: 3 kg is about a thousand times too sm" in told
    assert "thousand" not in findings(course_work("28 kW", take_up={"mass": "3000 kg"}))


def test_a_loose_take_up_is_told_by_what_it_is() -> None:
    slack = findings(course_work("28 kW", take_up={"kind": "screw", "force": "500 N"}))
    assert "the take-up given cannot run this belt; check its force." in slack
    light = findings(course_work("28 kW", take_up={"kind": "gravity", "mass": "200 kg"}))
    assert "the take-up given cannot run this belt; check its mass." in light


def loop(*wraps: str | None) -> Conveyor:
    tail, head = ({"wrap": w} if w else {} for w in wraps)
    return conveyor_of(
        loop_file(
            pulley("tail", "tail", **tail),
            run("carry", "carry", "60 m"),
            pulley("head", "head", drive="d", **head),
            run("back", "return", "60 m"),
            drives=[{"name": "d"}],
        )
    )


def test_wraps_that_do_not_close_are_refused() -> None:
    with pytest.raises(InputError) as caught:
        lay_out(loop("180 deg", "150 deg"), Worksheet())
    assert str(caught.value) == (
        "loop: does not close: wrap angles and slopes add up to 330° instead of 360° (tail 180°, "
        "head 150°; minus where the carry cover touches); check wrap and touches of each pulley"
    )
    lay_out(loop("178 deg", "178 deg"), Worksheet())  # within what rounding makes


def test_a_gap_beside_an_assumed_wrap_is_only_said() -> None:
    conveyor = loop("150 deg", None)
    lay_out(conveyor, Worksheet())
    told = findings(conveyor)
    assert "The wrap angles miss one full turn by 30°: what was assumed (head) or" in told
    assert "full turn" not in findings(loop(None, None))
    assert "full turn" not in findings(invented("incline"))


@pytest.mark.parametrize(
    ("changes", "key", "message"),
    [
        ({"conveyor": {"speed": "0 m/s"}}, "conveyor.speed", "is too small; accepted is more than"),
        (
            {"take_up": {"kind": "gravity", "mass": "90000 kg"}}, "take_up.mass",
            "90000 kg would load the belt beyond half its strength; believable is up to",
        ),
        (
            {"take_up": {"kind": "screw", "force": "900 kN"}}, "take_up.force",
            "900 kN would load the belt beyond half its strength; believable is up to",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_name(changes: dict[str, Any], key: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        conveyor_of(outline(**changes))
    assert [f.key for f in caught.value.faults] == [key]
    assert message in caught.value.faults[0].sentence


def test_a_loop_that_carries_nowhere_is_refused() -> None:
    with pytest.raises(InputError, match='loop: has no run with side = "carry"'):
        conveyor_of(
            loop_file(
                pulley("tail", "tail"),
                run("there", "return", "60 m"),
                pulley("head", "head", drive="d"),
                run("back", "return", "60 m"),
                drives=[{"name": "d"}],
            )
        )
