"""What an inspection file may say, and what is refused, word for word."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from splicewright.errors import InputError
from splicewright.files.toml import check
from splicewright.joint import End
from splicewright.joint.inspection.file import InspectionFile, build, load_inspection
from splicewright.joint.inspection.plates_found import findings_of, reading_assumptions
from splicewright.joint.inspection.verdict import PlateState
from strategies import EXAMPLES

SITE = EXAMPLES / "karst-hollow" / "inspections"
TYPED: dict[str, Any] = {
    "inspection": {"name": "test"},
    "belt": {"width": "650 mm", "strength": "400 N/mm"},
    "fastener": {
        "plates": 10, "pitch": "60 mm", "plate_width": "55 mm", "bolts": 2,
        "rated_tension": "50 N/mm",
    },
    "pull": {"running": "20 N/mm"},
}  # fmt: skip


def inspection(**changes: Any) -> Any:
    data = {**TYPED, **changes}
    return build(check(data, InspectionFile, "seen.toml"), "seen.toml")


def faults(**changes: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        inspection(**changes)
    return [str(fault) for fault in caught.value.faults]


def test_every_field_arrives() -> None:
    seen = load_inspection(SITE / "incline-edge-plates.toml")
    assert seen.invented and seen.plan == "../conveyors/incline.toml"
    assert seen.breaking == pytest.approx(360e3)
    first, second = seen.plates[:2]
    assert (first.number, first.end, first.state) == (1, End.LEADING, PlateState.LOST)
    assert second.share_kept == pytest.approx(0.8) and second.bolts_missing == 0
    assert seen.ends() == (End.LEADING, End.TRAILING)
    typed = load_inspection(SITE / "typed-in.toml").typed
    assert typed is not None
    assert (typed.plates, typed.bolts) == (21, 3)
    assert (typed.running, typed.starting) == (18e3, 27e3)


def test_findings_count_from_the_left_and_multiply() -> None:
    """Plate 2 keeps 60 % of its strength on one bolt of two: 30 %."""
    seen = inspection(
        plates=[
            {"number": 1, "state": "lost"},
            {"number": 2, "state": "worn", "share_kept": "60 %", "bolts_missing": 1},
            {"number": 3, "state": "cracked", "end": "trailing end"},
        ],
        pin={"now": "7 mm", "new": "8 mm"},
        edge={"torn_left": "20 mm"},
    )
    leading = findings_of(seen, End.LEADING, 10, 2, None)
    assert [(p.plate, p.kept_strength) for p in leading.plates] == [(1, 0.0), (2, 0.3)]
    assert leading.pin_wear == pytest.approx(1e-3)
    assert (leading.torn_left, leading.torn_right) == (0.02, 0.0)
    (crack,) = findings_of(seen, End.TRAILING, 10, 2, None).plates
    assert (crack.plate, crack.kept_strength) == (3, 0.0)
    said = " ".join(s.say() for s in reading_assumptions(seen))
    assert "taken as being on the leading end" in said
    assert "A cracked plate is taken as lost until somebody judges it." in said


def test_a_crack_that_was_judged_keeps_what_was_judged() -> None:
    seen = inspection(plates=[{"number": 4, "state": "cracked", "share_kept": "50 %"}])
    assert findings_of(seen, End.LEADING, 10, 2, None).plates[0].kept_strength == 0.5


def test_all_faults_at_once() -> None:
    rows = [
        {"number": 3, "state": "lost"},
        {"number": 3, "end": "leading end", "state": "worn"},
        {"number": 5, "state": "lost", "share_kept": "20 %"},
    ]
    assert faults(plates=rows, edge={"torn_left": "0.4 m", "torn_right": "0.3 m"}) == [
        "seen.toml: plates.2.number: plate 3 of the leading end is named twice; name each plate "
        "once, with all that was found on it",
        "seen.toml: plates.2.share_kept: is missing; a worn plate needs the share of its strength "
        'that is left, such as "70 %"',
        "seen.toml: plates.3.share_kept: 20 % does not go with a lost plate; leave it out, or "
        "call the plate worn",
        "seen.toml: edge: 700 mm torn in all is not less than the belt's 650 mm",
    ]


def test_a_plan_and_a_typed_joint_exclude_each_other() -> None:
    beside = {"plan": "pack", "name": "x"}
    assert faults(inspection=beside)[:2] == [
        "seen.toml: belt: stands beside a plan, which holds it already; leave one of them out",
        "seen.toml: pull: stands beside a plan, which holds it already; leave one of them out",
    ]
    with pytest.raises(InputError) as caught:
        build(check({"inspection": {"name": "x"}}, InspectionFile, "seen.toml"), "seen.toml")
    assert str(caught.value) == (
        "seen.toml: inspection.plan: is missing; name a plan.json, its folder or a conveyor file, "
        "or type in [belt], [fastener] and [pull]"
    )
    some = dict(TYPED["fastener"])
    del some["bolts"]
    assert faults(fastener=some, pull=None, inspection={"name": "x", "work": "w.toml"}) == [
        "seen.toml: inspection.work: stands without a plan; name the conveyor file",
        "seen.toml: pull: is missing; without a plan it must be given",
        "seen.toml: fastener.bolts: is missing; without a plan it must be given",
    ]
    assert faults(belt={"width": "650 mm"}) == [
        "seen.toml: belt.strength: is missing; give it, or the modulus"
    ]


def test_findings_that_do_not_fit_the_joint() -> None:
    seen = inspection(
        plates=[{"number": 11, "state": "lost"}, {"number": 2, "bolts_missing": 3}],
        pin={"now": "9 mm", "new": "8 mm"},
    )
    with pytest.raises(InputError) as caught:
        findings_of(seen, End.LEADING, 10, 2, None)
    assert [str(f) for f in caught.value.faults] == [
        "seen.toml: plates.1.number: 11 is not on this joint: its plates are 1 to 10, counted "
        "from the left",
        "seen.toml: plates.2.bolts_missing: 3 is more than a plate of this joint has: 2",
        "seen.toml: pin.now: 9 mm is not accepted: a worn pin is no thicker than the new one of "
        "8 mm",
    ]
    with pytest.raises(InputError, match=r"pin\.new: is missing; a worn pin needs the diameter"):
        findings_of(inspection(pin={"now": "7 mm"}), End.LEADING, 10, 2, None)


def test_lines_are_named(tmp_path: Path) -> None:
    path = tmp_path / "seen.toml"
    text = (SITE / "typed-in.toml").read_text("utf-8").replace("number = 12", "number = 11")
    path.write_text(text, "utf-8")
    with pytest.raises(InputError) as caught:
        load_inspection(path)
    (fault,) = caught.value.faults
    assert fault.line is not None
    assert text.splitlines()[fault.line - 1] == "number = 11"
    assert fault.line > text.splitlines().index("number = 11") + 1
