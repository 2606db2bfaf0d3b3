"""The verdict worked on the phone is the server's: loads of every plate, margin, level, words."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, Page

from depth import sized
from planned import planned
from splicewright.actions.inspection.assess_taps import (
    Tapped,
    assess_taps,
    condense,
    kept_by_state,
    read_taps,
)
from splicewright.errors import InputError
from splicewright.job.inspection.joined_belt import ALL_ROUND, JoinedBelt, joined_by_plan
from splicewright.joint import End
from splicewright.joint.inspection.damaged_joint import DamagedJoint
from splicewright.joint.inspection.plate_condition import Findings, condition, merged
from splicewright.joint.inspection.plates_found import findings_of
from splicewright.joint.loads.places import Place
from splicewright.plant import Carcass
from splicewright.quantities import POLICY, Kind, assumed, show, stated
from splicewright.web.app.rendering import static_bytes

SAME = 1e-6
"""How near the phone comes to the server [1]."""


@cache
def joints() -> dict[str, JoinedBelt]:
    """Joints that differ in all that the equations know: plates, pin, places, curve, guidance."""
    plan = joined_by_plan(planned("incline", "incline-worn-joint"))
    modulus = assumed("belt.modulus", "belt modulus", 4e6, Kind.WIDTH_FORCE, "test", (3e6, 6e6))
    places = (
        (ALL_ROUND, Place("flat", 20e3)),
        ("head", Place("transition at head", 16e3, 0.004, 0.4)),
        ("tail", Place("crown of tail", 9e3, -0.002, 0.3, 0, 1.0)),
    )

    def by_hand(plates: int, *, hinged: bool, depth: float, carcass: Carcass) -> JoinedBelt:
        middle = (plates - 1) / 2
        # Off the middle, so that left and right are told apart.
        rows = {
            End.LEADING: tuple(0.06 * (middle - n) + 0.004 for n in range(plates)),
            End.TRAILING: tuple(0.06 * (middle - n) - 0.007 for n in range(plates)),
        }
        return JoinedBelt(
            width=0.06 * plates + 0.05, carcass=carcass, modulus=modulus,
            centres=tuple(rows.items()) if hinged else
            tuple((end, rows[End.LEADING]) for end in End),
            plate_width=0.055, bolts=3, pin=0.011 if hinged else None, curve_depth=depth,
            hinged=hinged, rated=50e3, starting_rated=80e3,
            evenness=stated("range.evenness", "", 1.3, Kind.RATIO), running=20e3, starting=28e3,
            places=places, transitions=(0.8,), conveyor=None, assumptions=(),
        )  # fmt: skip

    return {
        "planned": plan,
        "hinged": by_hand(9, hinged=True, depth=0.0, carcass=Carcass.STEEL_CORD),
        "curved": by_hand(13, hinged=True, depth=0.004, carcass=Carcass.POLYESTER),
        "one piece": by_hand(7, hinged=False, depth=0.002, carcass=Carcass.POLYAMIDE),
    }


@dataclass(frozen=True)
class Damage:
    """The same damage as it is typed on the page, and as the phone's script is told of it."""

    typed: dict[str, list[str]]
    found: dict[str, Any]


def drawn(of: random.Random, joined: JoinedBelt) -> Damage:
    """Damage of any kind; often much of it, often on one side, for there contacts open."""
    n, kept = joined.plates, kept_by_state()
    typed: dict[str, list[str]] = {}
    rows: list[tuple[str, str, str, str]] = []
    plates = []
    share = of.choice((0.05, 0.15, 0.4, 0.7))
    side = of.random() < 0.4
    for end, word in enumerate(("leading", "trailing")):
        for number in range(1, n + 1):
            if of.random() > share * (1.6 * number / n if side else 1):
                continue
            state = of.choice(("worn", "cracked", "lost", "lost", "ok"))
            judged = round(of.uniform(0.02, 1), 3) if state not in {"lost", "cracked"} else None
            bolts = of.randint(0, joined.bolts - 1) if of.random() < 0.3 else 0
            if state != "ok":
                typed[f"{word}.{number}"] = [state]
            if judged is not None or bolts:
                told = "" if judged is None else f"{100 * judged:.1f} %"
                rows.append((word, str(number), told, str(bolts or "")))
            if state == "ok" and judged is None and not bolts:
                continue
            plates.append({
                "end": end, "number": number, "bolts": bolts,
                "kept": kept[state] if judged is None else judged,
            })  # fmt: skip
    for at, name in enumerate(("more_end", "more_plate", "more_kept", "more_bolts")):
        typed[name] = [row[at] for row in rows]
    found: dict[str, Any] = {"plates": plates}
    for field, name, high, unit in (
        ("pin_now", "pinNow", 0.999 * (joined.pin or 0), 1), ("torn_left", "tornLeft", 0.1, 1),
        ("torn_right", "tornRight", 0.1, 1), ("breaking", "breaking", 3 * joined.rated, 1e-3),
    ):  # fmt: skip
        low = joined.rated if field == "breaking" else 0.4 * high if field == "pin_now" else 0.001
        found[name] = 0.0 if name.startswith("torn") else None
        if of.random() < 0.25 and high > 0:
            value = of.uniform(low, high)
            text = f"{value:.6f} m" if unit == 1 else f"{value * unit:.4f} N/mm"
            typed[field] = [text]
            found[name] = float(text.split(maxsplit=1)[0]) / unit
    return Damage(typed, found | {"pinNew": None})


@pytest.fixture(scope="module")
def phone_script(browser: Browser) -> Iterator[Page]:
    """A page that holds the scripts and nothing else."""
    page = browser.new_page()
    page.evaluate(static_bytes("verdict-on-phone.js").decode())
    for name, joined in joints().items():
        told = condense(Tapped(name, lambda joined=joined: joined)).numbers  # type: ignore[misc]
        # As it travels: through JSON and back.
        page.evaluate(
            """([name, text]) => {
              window.judges = window.judges || {};
              judges[name] = new splicewright.jointVerdict.Judge(JSON.parse(text));
            }""",
            [name, json.dumps(told)],
        )
    yield page
    page.close()


def _findings(typed: dict[str, list[str]], joined: JoinedBelt) -> tuple[Findings, Findings]:
    """What the server makes of what was typed; raises what it refuses."""
    seen = read_taps(typed, joined.plates, "J").inspection
    both = [findings_of(seen, end, joined.plates, joined.bolts, joined.pin) for end in End]
    for end, own in zip(End, both, strict=True):
        condition(own, joined.row(end), joined.width)
    return (both[0], both[1]) if joined.hinged else (merged(*both),) * 2


def test_plate_loads_are_the_servers(phone_script: Page) -> None:
    """Contact problem by contact problem, at any pull; the server's own is held against balance
    and non-negative least squares in tests/joint/loads/test_response.py."""
    of = random.Random(1)
    asked: list[Any] = []
    expected: list[tuple[list[float] | None, float]] = []
    while len(asked) < sized(400, deep=10_000):
        name = of.choice(tuple(joints()))
        joined = joints()[name]
        damage = drawn(of, joined)
        try:
            leading, trailing = _findings(damage.typed, joined)
            cases = joined.cases(read_taps(damage.typed, joined.plates, "J").inspection.pin_now)
            at, place = of.randrange(len(cases)), of.randrange(len(joined.places))
            scale = 10 ** of.uniform(-1.5, 0.5)
            joint = DamagedJoint.of(
                cases[at], leading, trailing if joined.hinged else None,
                [p for _, p in joined.places], joined.curve_depth,
            )  # fmt: skip
        except InputError:
            continue  # no plate left on an end
        asked.append([name, damage.found, at, place, scale])
        loads = None
        if joint.response is not None:
            loads = joint.loads(scale, joint.response)[place].tolist()
        expected.append((loads, scale * joint.pull[place]))
    answers = phone_script.evaluate(
        """(asked) => asked.map(([name, found, at, place, scale]) => {
          try { return judges[name].loadsOf(found, at, place, scale); }
          catch (error) { return String(error); }
        })""",
        asked,
    )
    bearing, loose, open_ = 0, 0, 0
    for question, answer, (loads, pull) in zip(asked, answers, expected, strict=True):
        if loads is None:
            assert answer is None, question
            open_ += 1
            continue
        assert isinstance(answer, list), (answer, question)
        off = np.abs(np.array(answer) - loads).max() / (pull / len(loads))
        assert off <= SAME, (off, question)
        bearing += sum(load > 0 for load in loads)
        loose += sum(load == 0 for load in loads)
    # The draw reaches what it is for: joints that open, and plates that hang loose.
    assert open_ and bearing and loose > len(asked) / 4


def test_the_verdict_is_the_servers(phone_script: Page) -> None:
    """Level, margin, pull it carries, plate that goes next: all of the server's, to a millionth."""
    of = random.Random(2)
    levels = set()
    for _ in range(sized(12, deep=150)):
        name = of.choice(tuple(joints()))
        joined, tapped = joints()[name], Tapped(name, lambda: None)  # type: ignore[arg-type, return-value]
        damage = drawn(of, joined)
        try:
            made = assess_taps(tapped, read_taps(damage.typed, joined.plates, "J"))
        except InputError:
            made = None
        answer = phone_script.evaluate(
            """([name, found]) => {
              try { return judges[name].judge(found); } catch (error) { return null; }
            }""",
            [name, damage.found],
        )
        assert (made is None) == (answer is None), damage
        if made is None:
            continue
        levels.add(made.verdict.name)
        assert answer["verdict"] == made.verdict.name, damage
        assert answer["margin"] == pytest.approx(made.margin, rel=SAME)
        carries = [answer["carries"][0], answer["typical"]["carries"]]
        assert [c * joined.running for c in carries] == pytest.approx(
            [made.largest, made.largest_typical], rel=SAME
        )
        assert answer["losses"] == min(made.losses_to_open, 2)
        assert answer["next"] == {"end": made.next_end.name.lower(), "number": made.next_plate}
        assert answer["typical"]["end"] == made.end.name.lower()
        assert joined.places[answer["typical"]["place"]][1].name == made.place
    assert levels >= {"STOP"}


def test_numbers_are_written_as_the_server_writes_them(phone_script: Page) -> None:
    of = random.Random(3)
    for kind in (Kind.SHARE, Kind.WIDTH_FORCE):
        for system in ("metric", "inch"):
            shown = POLICY[kind].shown(system)
            values = [0.0, shown.factor, 0.99949 * shown.factor, 1.005 * shown.factor]
            values += [shown.factor * 10 ** of.uniform(-3, 4) for _ in range(300)]
            told = phone_script.evaluate(
                "([values, shown]) => values.map((v) => splicewright.verdictHere.show(v, shown))",
                [values, asdict(shown)],
            )
            assert told == [show(value, kind, system) for value in values]


def test_what_a_phone_loads_is_small() -> None:
    """Two ends of 22 plates and all sets of assumptions: under 200 kB, counted apart."""
    joined = joints()["planned"]
    assert joined.plates == 22
    told = condense(Tapped("planned", lambda: joined)).numbers
    assert len(told["cases"]) == 54
    assert len(json.dumps(told)) + len(static_bytes("verdict-on-phone.js")) < 200_000
    assert all(math.isfinite(c["ease"]) for c in told["cases"])
