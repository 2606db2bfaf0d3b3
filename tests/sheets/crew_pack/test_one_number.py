"""One number is printed one way: on both documents, in drawings and on the command line.

Every figure of a plan and of its plate loads is put together anew from the object itself: whatever
carries a key must carry the worksheet's own value and kind, since `show` makes the words of both.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from sheets.crew_pack.test_pack import pages
from sheets.plans import COMPLETE, SITE, WORKS, example
from splicewright.cli import main
from splicewright.job import loads_of
from splicewright.quantities import Figure, Kind, System, show
from splicewright.quantities.worksheet import Line, key_of
from splicewright.sheets.canvas.scene import metric_text
from splicewright.sheets.drawings.belt_end import length_text


def figures(thing: Any) -> Iterator[Figure]:
    """Every figure in an object, at any depth, but for those of its worksheet."""
    if isinstance(thing, Figure):
        yield thing
    elif is_dataclass(thing) and not isinstance(thing, type):
        for field in fields(thing):
            if field.name != "worksheet":
                yield from figures(getattr(thing, field.name))
    elif isinstance(thing, tuple | list):
        for part in thing:
            yield from figures(part)


@pytest.mark.parametrize("name", COMPLETE)
def test_whatever_has_a_key_is_the_worksheets_own_number(name: str) -> None:
    told = example(name)
    sheet = {key_of(e): e.figure if isinstance(e, Line) else e for e in told.worksheet.entries}
    found = [f for f in figures(told) if f.key in sheet]
    assert len(found) > 100
    for figure in found:
        own = sheet[figure.key]
        assert figure.show() == own.show(), figure.key
        assert figure.show("inch") == own.show("inch"), figure.key


@pytest.mark.parametrize("name", COMPLETE)
def test_loads_and_plan_say_one_key_alike(name: str) -> None:
    told = example(name)
    said: dict[str, set[str]] = {}
    for figure in (*figures(told), *figures(loads_of(told))):
        said.setdefault(figure.key, set()).add(figure.show())
    assert {key: words for key, words in said.items() if len(words) > 1} == {}


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("name", COMPLETE)
def test_what_decides_is_said_alike_on_both_documents_and_the_command_line(
    name: str, system: System
) -> None:
    told = example(name)
    crew = " ".join(pages(name, system))
    dossier = " ".join(pages(name, system, which="dossier"))
    words = ["plan", str(SITE / "conveyors" / f"{name}.toml"),
             str(SITE / "jobs" / f"{WORKS[name]}.toml"), "--units", system,
             "--fasteners", str(SITE / "fasteners" / "hinged.toml"),
             "--fasteners", str(SITE / "fasteners" / "solid.toml")]  # fmt: skip
    command = CliRunner().invoke(main, words).output
    for figure in (
        told.demand.running, told.demand.starting, told.belt.position_after, told.belt.left,
        told.at_rest.ratings.clamps, told.at_rest.ratings.hoists,
    ):  # fmt: skip
        for where in (crew, dossier, command):
            assert figure.show(system) in where, figure.key


@given(st.integers(-8_000, 8_000))
def test_a_tie_goes_the_same_way_in_drawings_and_in_tables(quarters: int) -> None:
    """44.25 mm was 44.2 in drawings and 44.3 in tables."""
    value = quarters / 4.0
    text = length_text(value / 1000.0, "metric")
    if value == 0 or abs(value) >= 1:  # a mark is never made finer than a tenth
        assert text == show(value / 1000.0, Kind.LENGTH, unit=False).replace("-", "−")
    if abs(value) < 100:
        assert metric_text(value) == text
