"""The whole job as one result: lossless JSON, stable id, a worksheet that holds."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from splicewright.errors import InputError
from splicewright.job import JointPlan, plan
from splicewright.joint import Range
from splicewright.plant import load_conveyor, load_work
from splicewright.quantities import FORMULAS, Figure, Given, Line, Record, Sentence, explain, key_of
from strategies import CONVEYORS, conveyor_of, example_ranges, invented, outline, work_of


@pytest.fixture(scope="module")
def ranges() -> tuple[Range, ...]:
    return example_ranges()


@pytest.fixture(scope="module")
def plans(ranges: tuple[Range, ...]) -> dict[tuple[str, bool], JointPlan]:
    """Every example planned with and without the example ranges."""
    made = {}
    for path in CONVEYORS:
        conveyor = load_conveyor(path)
        for known in (True, False):
            made[path.stem, known] = plan(
                conveyor, load_work(None, conveyor), ranges if known else ()
            )
    return made


CASES = [(path.stem, known) for path in CONVEYORS for known in (True, False)]
each = pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c[0]}-{'with' if c[1] else 'no'}")


@each
def test_json_gives_the_plan_back(
    plans: dict[tuple[str, bool], JointPlan], case: tuple[str, bool]
) -> None:
    made = plans[case]
    text = made.to_json()
    assert JointPlan.from_json(text) == made
    assert JointPlan.from_json(text).to_json() == text
    json.loads(text, parse_constant=_no_such_number)


def _no_such_number(word: str) -> float:
    msg = f"{word} is no JSON"
    raise AssertionError(msg)


@each
def test_every_line_of_the_worksheet_follows_from_its_inputs(
    plans: dict[tuple[str, bool], JointPlan], case: tuple[str, bool]
) -> None:
    follows(plans[case].worksheet)


def test_the_worksheet_follows_for_a_reversing_incline_too() -> None:
    conveyor = conveyor_of(outline(conveyor={"reversing": True}))
    follows(plan(conveyor, work_of(conveyor), example_ranges()).worksheet)


def follows(record: Record) -> None:
    """Work every line of a worksheet again from the inputs it names."""
    values = {key_of(e): _figure(e).value for e in record.entries}
    assert len(values) == len(record.entries)
    for entry in record.entries:
        if not isinstance(entry, Line):
            continue
        inputs = [float(k[1:]) if k.startswith("=") else values[k] for _, k in entry.inputs]
        expected = _again(entry, inputs)
        assert entry.figure.value == pytest.approx(expected, rel=1e-12, abs=1e-9), entry
        assert entry.sources


def _figure(entry: Line | Given) -> Figure:
    return entry.figure if isinstance(entry, Line) else entry


def _again(line: Line, inputs: list[float]) -> float:
    arithmetic: dict[str, Callable[[list[float]], float]] = {
        "arithmetic.Σ": sum, "arithmetic.max": max, "arithmetic.min": min,
    }  # fmt: skip
    if line.formula == "arithmetic.found":
        # From a search, a table or a mean over the loop: the rooms' own tests check these.
        return line.figure.value
    if line.formula in arithmetic:
        return arithmetic[line.formula](inputs)
    found = FORMULAS[line.formula]
    by_symbol = dict(zip((s for s, _ in line.inputs), inputs, strict=True))
    return float(found.function(**{p: by_symbol[s] for p, s in found.symbols.items()}))


@each
def test_every_input_lies_inside_its_plausible_span(
    plans: dict[tuple[str, bool], JointPlan], case: tuple[str, bool]
) -> None:
    for entry in plans[case].worksheet.entries:
        if isinstance(entry, Given):
            assert entry.low <= entry.value <= entry.high, entry
            assert entry.reason or not entry.assumed, entry


@each
def test_every_printed_figure_can_be_explained(
    plans: dict[tuple[str, bool], JointPlan], case: tuple[str, bool]
) -> None:
    made = plans[case]
    values = {key_of(e): _figure(e).value for e in made.worksheet.entries}
    for figure in _parts(made, Figure):
        if isinstance(figure, Given):
            continue  # an input of conveyor or work that this plan may not need
        assert figure.key in values, figure
        assert figure.value == values[figure.key], figure
    explain(made.worksheet, "demand.running")


def _parts(item: Any, kind: type) -> list[Any]:
    if isinstance(item, kind):
        return [item]
    if isinstance(item, tuple):
        return [found for part in item for found in _parts(part, kind)]
    if is_dataclass(item):
        return [found for f in fields(item) for found in _parts(getattr(item, f.name), kind)]
    return []


@each
def test_no_sentence_in_inch_has_a_metric_unit(
    plans: dict[tuple[str, bool], JointPlan], case: tuple[str, bool]
) -> None:
    made = plans[case]
    sizes = {c.joint.name for c in made.choice.candidates}
    for said in _parts(made, Sentence):
        assert isinstance(said, Sentence)
        text = said.say("inch")
        for name in sizes:
            text = text.replace(name, "")
        assert not re.search(r"\d (mm|m|kN|N/mm|N m|kg|kW|kJ|m/s|°C|m2)\b", text), text
        assert "{" not in text, text


@each
def test_what_is_given_without_a_fastener(
    plans: dict[tuple[str, bool], JointPlan], case: tuple[str, bool]
) -> None:
    made = plans[case]
    assert made.complete is (made.fastener is not None)
    assert made.isolation
    assert made.tools
    assert made.demand.running.value > 0
    assert [s.key for s in made.steps if s.key != "piece"][:3] == ["park", "permit", "isolate"]
    if not made.complete:
        assert made.lengths is None
        assert made.parts == ()
        # Of steps that are not the whole job nobody says that it fits.
        assert made.timing.verdict == "no verdict"
        assert "No fastener chosen: this pack holds isolation, demand and lengths." in [
            str(w) for w in made.warnings
        ]


def test_the_three_conveyors_of_the_example_site_get_a_joint(
    plans: dict[tuple[str, bool], JointPlan],
) -> None:
    for name in ("flat", "incline", "shuttle"):
        assert plans[name, True].complete


def test_invented_data_are_called_so(plans: dict[tuple[str, bool], JointPlan]) -> None:
    said = "INVENTED DATA: this plan must not be used for real work."
    assert said in [str(w) for w in plans["flat", False].warnings]
    assert said in [str(w) for w in plans["bottom-ash-960", True].warnings]
    assert said not in [str(w) for w in plans["bottom-ash-960", False].warnings]


def test_every_plan_defers_to_law_and_a_competent_person(
    plans: dict[tuple[str, bool], JointPlan],
) -> None:
    for made in plans.values():
        assert str(made.warnings[0]) == (
            "Local law, site rules and the maker's instructions take precedence; a competent "
            "person must "
            "check these numbers."
        )


def test_the_same_inputs_give_the_same_id(ranges: tuple[Range, ...]) -> None:
    first, second = (
        plan(c, load_work(None, c), ranges) for c in (invented("flat"), invented("flat"))
    )
    assert first.id == second.id
    assert first == second
    assert re.fullmatch(r"[2-9A-HJ-NP-Z]{10}", first.id)


def test_any_change_of_inputs_changes_the_id(ranges: tuple[Range, ...]) -> None:
    conveyor = invented("flat")
    work = load_work(None, conveyor)
    wider = replace(
        conveyor, belt=replace(conveyor.belt, width=conveyor.belt.width.at(0.9144 + 1e-9))
    )
    named = replace(work, name="another")
    ids = {
        plan(conveyor, work, ranges).id,
        plan(wider, work, ranges).id,
        plan(conveyor, named, ranges).id,
        plan(conveyor, work, ranges[:1]).id,
        plan(conveyor, work).id,
    }
    assert len(ids) == 5


@pytest.mark.parametrize("text", ["", "{}", "[]", "not json", '{"format": 1}', '{"format": 2}'])
def test_what_is_no_plan(text: str) -> None:
    with pytest.raises(InputError, match="no plan of format 2: "):
        JointPlan.from_json(text)


def test_units_of_the_file_do_not_matter(ranges: tuple[Range, ...]) -> None:
    metric = outline(
        conveyor={"speed": "2.032 m/s"},
        outline={"centre_distance": "121.92 m", "lift": "13.716 m", "smallest_pulley": "508 mm"},
        belt={"width": "914.4 mm", "thickness": "11.1125 mm"},
        material={"rate": "362.873896 t/h"},
        take_up={"mass": "2721.55422 kg", "travel": "1.8288 m", "position": "0.6096 m"},
    )
    inch = outline(
        conveyor={"speed": "400 fpm"},
        outline={"centre_distance": "400 ft", "lift": "45 ft", "smallest_pulley": "20 in"},
        belt={"width": '36"', "thickness": "7/16 in"},
        material={"rate": "400 short ton/h"},
        take_up={"mass": "6000 lb", "travel": "6 ft", "position": "2 ft"},
    )
    made = []
    for data in (metric, inch):
        conveyor = conveyor_of(data)
        made.append(plan(conveyor, work_of(conveyor, crew={"window": "6 h"}), ranges))
    one, two = ({key_of(e): _figure(e).value for e in p.worksheet.entries} for p in made)
    assert one.keys() == two.keys()
    for key, value in one.items():
        assert two[key] == pytest.approx(value, rel=1e-9, abs=1e-9), key
    assert made[0].choice.recommended == made[1].choice.recommended
    assert [(p.name, p.count, p.spare) for p in made[0].parts] == [
        (p.name, p.count, p.spare) for p in made[1].parts
    ]


def test_example_files_name_no_host_or_folder() -> None:
    for path in CONVEYORS:
        text = Path(path).read_text("utf-8")
        assert "http" not in text
        assert "www" not in text
