"""The worksheet: every number with its formula, inputs, origin and source."""

from __future__ import annotations

import importlib
import pkgutil

import pytest

import splicewright
from splicewright.errors import InputError
from splicewright.quantities import (
    FORMULAS,
    SOURCES,
    Figure,
    Kind,
    Line,
    Mark,
    Origin,
    Worksheet,
    assumed,
    explain,
    formula,
    key_of,
    measured,
    stated,
)
from splicewright.tension.resistance.traction import per_width

T = stated("belt.tension", "tension", 8e3, Kind.FORCE, "from the file")
B = assumed("belt.width", "belt width", 0.8, Kind.LENGTH, "not given", (0.7, 0.9))


def sheet() -> Worksheet:
    made = Worksheet()
    made.work("belt.duty", "tension per width", per_width, tension=T, width=B)
    return made


def test_explained_in_metric() -> None:
    assert explain(sheet().finish(), "belt.duty") == "\n".join(
        [
            "belt.duty",
            "  tension per width = 10 N/mm",
            "  t = T/B",
            "    T = 8 kN  (belt.tension: tension)",
            "    B = 800 mm  (belt.width: belt width)",
            "  source: Sum, difference, product, largest or smallest of the inputs (derived here)",
            "belt.tension",
            "  tension = 8 kN [from the file: from the file]",
            "belt.width",
            "  belt width = 800 mm [assumed: not given; plausible 700 mm to 900 mm]",
        ]
    )


def test_explained_in_inch_has_no_metric_unit() -> None:
    text = explain(sheet().finish(), "belt.duty", "inch")
    assert "  tension per width = 57 lbf/in" in text
    assert "mm" not in text
    assert "kN" not in text


def test_each_number_is_explained_once() -> None:
    made = sheet()
    made.total("twice", "twice", [made.get("belt.duty") or T, made.get("belt.duty") or T])
    assert explain(made.finish(), "twice").count("belt.duty\n  tension per width") == 1


def test_constants_are_printed_as_such() -> None:
    made = Worksheet()
    made.work("duty", "duty", per_width, tension=4000.0, width=B)
    assert "    T = 4000.0\n" in explain(made.finish(), "duty")


def test_sums_and_extremes() -> None:
    made = Worksheet()
    parts = [Figure(f"p{n}", f"part {n}", v, Kind.FORCE) for n, v in enumerate((3.0, -8.0, 5.0))]
    assert made.total("sum", "sum", parts).value == 0
    assert made.largest("most", "most", parts).value == 5
    assert made.smallest("least", "least", parts).value == -8
    line = made.finish().find("least")
    assert isinstance(line, Line)
    assert line.text == "smallest of these"
    assert line.inputs == (("1", "p0"), ("2", "p1"), ("3", "p2"))


def test_unknown_number_names_those_near_it() -> None:
    with pytest.raises(InputError) as caught:
        sheet().finish().find("belt.weight")
    assert str(caught.value) == (
        "belt.weight: no number of that name in this plan; near it: belt.width, belt.tension, "
        "belt.duty"
    )
    with pytest.raises(InputError, match="run explain without a key to list all"):
        sheet().finish().find("zzz")


def test_one_key_one_number() -> None:
    made = sheet()
    with pytest.raises(TypeError, match=r"two numbers are called belt\.duty"):
        made.work("belt.duty", "again", per_width, tension=T, width=B)


def test_inputs_must_be_those_of_the_formula() -> None:
    with pytest.raises(TypeError):
        Worksheet().work("x", "x", per_width, tension=T)


def test_keys_come_in_the_order_of_work() -> None:
    record = sheet().finish()
    assert list(record.keys()) == ["belt.tension", "belt.width", "belt.duty"]
    assert [key_of(e) for e in record.below("belt.duty")] == [
        "belt.duty", "belt.tension", "belt.width",
    ]  # fmt: skip


def test_assumptions_are_those_nobody_gave() -> None:
    made = sheet()
    made.note(measured("belt.thickness", "thickness", 0.01, Kind.LENGTH, "calliper"))
    assert [g.key for g in made.finish().assumptions()] == ["belt.width"]


def test_a_given_carries_its_story() -> None:
    assert B.assumed
    assert not T.assumed
    assert T.origin is Origin.FILE
    assert (T.low, T.high) == (T.value, T.value)
    moved = B.at(0.9)
    assert (moved.value, moved.low, moved.reason) == (0.9, 0.7, "not given")


def test_a_formula_must_name_all_its_symbols() -> None:
    with pytest.raises(TypeError, match=r"symbols and parameters differ \(\['b'\]\)"):

        @formula("x", gives=("x", Kind.RATIO), symbols={"a": "a"}, source="arithmetic")
        def half(a: float, b: float) -> float:
            return a / b


def test_a_formula_must_not_name_symbols_it_has_no_use_for() -> None:
    with pytest.raises(TypeError, match=r"symbols and parameters differ \(\[\]\)"):

        @formula("x", gives=("x", Kind.RATIO), symbols={"a": "a", "b": "b"}, source="arithmetic")
        def same(a: float) -> float:
            return a


def test_a_formula_must_name_a_known_source() -> None:
    with pytest.raises(KeyError):

        @formula("x", gives=("x", Kind.RATIO), symbols={"a": "a"}, source="hearsay")
        def same(a: float) -> float:
            return a


def test_every_formula_prints_the_symbols_it_uses() -> None:
    for module in pkgutil.walk_packages(splicewright.__path__, "splicewright."):
        if not module.name.endswith("__main__") and ".fonts" not in module.name:
            importlib.import_module(module.name)
    assert len(FORMULAS) > 50
    for found in FORMULAS.values():
        assert found.symbol in found.text, found.id
        if " with " in found.text:
            continue  # a condition solved by search, with no expression to print
        # An index may be left out where the text holds for all of them: "max(-β/α)".
        missing = [s for s in found.symbols.values() if s.split("_")[0] not in found.text]
        assert not missing, (found.id, found.text, missing)


def test_every_source_says_how_far_to_trust_it() -> None:
    for source in SOURCES.values():
        assert isinstance(source.mark, Mark)
        assert str(source) == f"{source.title} ({source.mark})"
