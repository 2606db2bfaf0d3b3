"""Answers typed into a form against the same words in a work file; anything typed at all."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from depth import sized
from splicewright.actions.plan.from_answers import FIELDS, draft_from_answers, plan_from_answers
from splicewright.actions.plan.plan import plan_joint
from splicewright.errors import InputError
from splicewright.joint import Range, load_ranges
from splicewright.plant import Conveyor, Damage, JobKind, load_conveyor

SITE = Path(__file__).parents[3] / "examples" / "karst-hollow"
JOBS = sorted(
    (job.name.split("-")[0], job.stem) for job in (SITE / "jobs").glob("*.toml")
)  # every kind of job
KEPT = {"reason", "note", "invented"}
"""Keys of a work file that the form does not ask: the kind of job tells the reason."""
OTHERWISE = {
    ("work", "kind"): "job", ("damage", "what"): "damage", ("damage", "length"): "damage_length",
    ("damage", "width"): "damage_width", ("press", "length"): "press_length",
    ("press", "width"): "press_width", ("press", "bias"): "press_bias",
    ("press", "temperature"): "press_temperature",
    ("air", "temperature"): "air",
}  # fmt: skip
"""Fields of the form that are not called as in the file, because another table has that name."""


@cache
def _conveyor(name: str) -> Conveyor:
    return load_conveyor(SITE / "conveyors" / f"{name}.toml")


@cache
def _ranges() -> tuple[Range, ...]:
    return load_ranges((SITE / "fasteners",))


def _as_typed(value: Any) -> list[str]:
    if isinstance(value, list):
        return [str(each) for each in value]
    if isinstance(value, bool):
        return ["yes" if value else "no"]
    return [str(value["value"] if isinstance(value, dict) else value)]


@pytest.mark.parametrize(("conveyor", "job"), JOBS)
def test_the_form_plans_what_the_file_plans(conveyor: str, job: str) -> None:
    """Choice, lengths and times of the same words are the same numbers."""
    tables = tomllib.loads((SITE / "jobs" / f"{job}.toml").read_text("utf-8"))
    answers: dict[str, list[str]] = {}
    for table, rows in tables.items():
        if table == "round":
            answers["round_name"] = [row["name"] for row in rows]
            answers["round_behind"] = [row["behind"] for row in rows]
            continue
        for key, value in rows.items():
            field = OTHERWISE.get((table, key), key)
            assert field in FIELDS or key in KEPT, key
            if field in FIELDS:
                answers[field] = _as_typed(value)
    by_form = plan_from_answers(_conveyor(conveyor), answers, _ranges())
    by_file = plan_joint(SITE / "conveyors" / f"{conveyor}.toml", SITE / "jobs" / f"{job}.toml")
    assert by_form.choice.recommended == by_file.choice.recommended
    assert by_form.layout == by_file.layout
    assert by_form.lengths == by_file.lengths
    assert by_form.belt == by_file.belt
    assert by_form.timing == by_file.timing
    assert by_form.work.thickness == by_file.work.thickness
    assert (by_form.work.job, by_form.work.damage) == (by_file.work.job, by_file.work.damage)
    assert [s.key for s in by_form.steps] == [s.key for s in by_file.steps]
    assert [j.name for j in by_form.work.round] == [j.name for j in by_file.work.round]


def test_nothing_answered_is_planned_with_assumptions() -> None:
    made = plan_from_answers(_conveyor("incline"), {}, _ranges())
    assert {"work.distance", "work.cut_out", "work.load_left"} <= {
        given.key for given in made.worksheet.assumptions()
    }


def test_a_fault_names_the_box_it_was_typed_in() -> None:
    answers = {"thickness": ["", " ", "11 mm", "7 furlongs", "", "9 m"]}
    draft = draft_from_answers(_conveyor("incline"), answers, _ranges())
    assert [fault.key for fault in draft.faults] == ["thickness.4", "thickness.6"]
    # Worked without them, not without the one that can be used.
    assert draft.plan is not None
    assert [round(1e3 * t.value, 6) for t in draft.plan.work.thickness] == [11.0]
    with pytest.raises(InputError) as refused:
        plan_from_answers(_conveyor("incline"), answers, _ranges())
    assert refused.value.faults == draft.faults


@pytest.mark.parametrize(
    ("answers", "field"),
    [
        ({"job": ["belt shortened"], "insert": ["3 m"]}, "cut_out"),
        ({"job": ["belt lengthened"]}, "insert"),
        ({"job": ["piece inserted"]}, "insert"),
        ({"job": ["emergency repair"]}, "damage"),
        ({"job": ["emergency repair"], "damage": ["plates"]}, "damage_width"),
        ({"job": ["repair along the belt"], "damage": ["rip"]}, "damage_length"),
        ({"job": ["inspection round"]}, "round_name.1"),
        ({"job": ["inspection round"], "round_name": ["", "J1"]}, "round_behind.2"),
        ({"press_length": ["2 kg"]}, "press_length"),
        ({"humidity": ["120 %"]}, "humidity"),
        ({"run": ["moon"]}, "run"),
        ({"distance": ["5 km"]}, "distance"),
        ({"width": ["2 m"]}, "width"),
        ({"people": ["0"]}, "people"),
        ({"people": ["2.5"]}, "people"),
        ({"people": ["٣"]}, "people"),
        ({"scrapers": ["maybe"]}, "scrapers"),
        ({"environment": ["wet", "haunted"]}, "environment.2"),
        ({"job": ["because"]}, "job"),
        ({"window": ["-3 h"]}, "window"),
    ],
)
def test_each_fault_at_its_field(answers: dict[str, list[str]], field: str) -> None:
    draft = draft_from_answers(_conveyor("incline"), answers)
    assert [fault.key for fault in draft.faults] == [field]
    assert draft.faults[0].file == ""


def test_what_was_answered_for_another_kind_of_job_counts_no_more() -> None:
    """A crew changes its mind: hidden answers are not looked at."""
    answers = {
        "job": ["tracking trouble"], "insert": ["3 m"], "damage": ["rip"], "damage_width": ["9 m"],
        "round_name": ["J1"], "cut_out": ["2 m"],
    }  # fmt: skip
    draft = draft_from_answers(_conveyor("incline"), answers)
    assert draft.faults == () and draft.plan is not None
    assert draft.plan.work.damage is None and draft.plan.work.round == ()


TEXTS = st.text(max_size=30) | st.sampled_from(
    ["", "11 mm", "7/16 in", "1e400 m", "nan", "-1 m", "0 %", "yes", "hinged", "{running}", "\x00"]
)


@given(
    st.dictionaries(
        st.sampled_from(FIELDS),
        st.lists(TEXTS | st.sampled_from([*JobKind, *Damage]), max_size=4),
        max_size=6,
    )
)
@settings(
    max_examples=sized(12, deep=600), deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
def test_anything_typed_is_planned_or_told(answers: dict[str, list[str]]) -> None:
    draft = draft_from_answers(_conveyor("flat"), answers)
    known = {*FIELDS}
    for fault in draft.faults:
        assert fault.key.partition(".")[0] in known, fault
        assert fault.sentence
        assert "\n" not in fault.sentence or any("\n" in t for ts in answers.values() for t in ts)
    assert draft.plan is not None or draft.faults
