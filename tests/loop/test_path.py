"""Stations and heights round the loop."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings

from depth import examples
from proof import proves
from splicewright.loop import lay_out, wrapped_length
from splicewright.plant import slug
from splicewright.quantities import Worksheet
from strategies import conveyor_of, invented, loop_file, outlines, pulley, run, work_of

pytestmark = proves(
    "Loop and take-up",
    "Stations round a loop, by the tape",
    "C",
    "Length along the belt's middle on two unlike pulleys and three runs, heights, places "
    "of work and numbers of idler sets, added up by hand.",
    doubt="Exact geometry; belt bends about the middle of its thickness.",
    tolerance="rounding of floats",
    sketch="two-pulleys",
)


def uneven() -> dict[str, object]:
    return loop_file(
        pulley("tail", "tail", diameter="400 mm", wrap="190 deg"),
        run("level", "carry", "20 m"),
        run("up", "carry", "50 m", rise="7 m"),
        pulley("head", "head", diameter="800 mm", wrap="178 deg"),
        run("down", "return", "69 m", rise="-7 m"),
        belt={"thickness": "12 mm"},
    )


def test_stations_in_order_without_gaps() -> None:
    path = lay_out(conveyor_of(uneven()), Worksheet())
    tail = math.radians(190) * 0.412 / 2
    head = math.radians(178) * 0.812 / 2
    expected = [
        ("tail", 0, tail, 0, 0),
        ("level", tail, tail + 20, 0, 0),
        ("up", tail + 20, tail + 70, 0, 7),
        ("head", tail + 70, tail + 70 + head, 7, 7),
        ("down", tail + 70 + head, tail + 139 + head, 7, 0),
    ]
    found = [(s.name, s.start, s.end, s.height_in, s.height_out) for s in path.stations]
    for got, wanted in zip(found, expected, strict=True):
        assert got[0] == wanted[0]
        assert got[1:] == pytest.approx(wanted[1:])
    assert path.belt_length.value == pytest.approx(tail + 139 + head)


def test_idler_sets_by_the_tape() -> None:
    conveyor = conveyor_of(
        {**uneven(), "idlers": {"carry": {"spacing": "1.2 m"}, "return": {"spacing": "3 m"}}}
    )
    assert [n.value for n in lay_out(conveyor, Worksheet()).idlers] == [16, 41, 23]


def test_place_of_work() -> None:
    conveyor = conveyor_of(uneven())
    path = lay_out(conveyor, Worksheet())
    work = work_of(conveyor, work={"run": "up", "distance": "10 m"})
    along, height = path.place(work)
    assert along == pytest.approx(path.at("up").start + 10)
    assert height == pytest.approx(1.4)


def test_unknown_station() -> None:
    with pytest.raises(KeyError, match="lost"):
        lay_out(invented("flat"), Worksheet()).at("lost")


def test_belt_on_a_pulley_lies_along_its_middle() -> None:
    assert wrapped_length(math.pi, 0.5, 0.01) == pytest.approx(math.pi * 0.255)


@settings(max_examples=examples(30))
@given(outlines())
def test_the_loop_closes_and_its_parts_add_up(data: dict[str, object]) -> None:
    path = lay_out(conveyor_of(data), Worksheet())
    assert path.stations[0].start == 0
    assert path.stations[-1].height_out == pytest.approx(0, abs=1e-6)
    assert path.stations[-1].end == pytest.approx(path.belt_length.value)
    for one, following in zip(path.stations, path.stations[1:], strict=False):
        assert (one.end, one.height_out) == (following.start, following.height_in)


@pytest.mark.parametrize(
    ("name", "part"),
    [("Head pulley 2", "head-pulley-2"), ("into  the take-up", "into-the-take-up"), ("Ü/1", "ü-1")],
)
def test_names_as_keys(name: str, part: str) -> None:
    assert slug(name) == part
