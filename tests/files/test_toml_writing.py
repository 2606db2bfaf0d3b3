"""TOML that is written is read back as it was meant, and what a person wrote around it stays.

Source of what is expected: Python's own reader of TOML (`tomllib`).
"""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from planned import SITE
from splicewright.files.toml_writing import toml_text, with_values

_TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
_PLAIN = st.one_of(_TEXT, st.booleans(), st.integers(-(10**9), 10**9), st.floats(-1e6, 1e6))
_DATA = st.dictionaries(
    _TEXT,
    st.recursive(
        st.one_of(_PLAIN, st.lists(_PLAIN, max_size=3)),
        lambda below: st.one_of(
            st.dictionaries(_TEXT, below, max_size=3),
            st.lists(st.dictionaries(_TEXT, below, min_size=1, max_size=3), min_size=1, max_size=2),
        ),
        max_leaves=8,
    ),
    max_size=4,
)


@given(_DATA)
@example({"width\n": 1, "a": {"b\n": [{"c\n": ""}]}})
def test_what_is_written_is_read_back(data: dict[str, Any]) -> None:
    assert tomllib.loads(toml_text(data)) == data


@pytest.mark.parametrize("name", ["flat", "incline", "shuttle"])
def test_the_examples_are_read_back(name: str) -> None:
    data = tomllib.loads((SITE / "conveyors" / f"{name}.toml").read_text("utf-8"))
    assert tomllib.loads(toml_text(data)) == data


def test_comments_stay_where_a_value_is_changed() -> None:
    text = '# ours\n[belt]  # new in May\nwidth = "1000 mm"  # tape\n\n[[drives]]\nname = "d"\n'
    made = with_values(
        text, {("belt", "width"): "36 in", ("belt", "marking"): 'EP "500"', ("drives", 0, "power"):
               "90 kW", ("conveyor", "reversing"): True}
    )  # fmt: skip
    data = tomllib.loads(made)
    assert data["belt"] == {"width": "36 in", "marking": 'EP "500"'}
    assert data["drives"] == [{"name": "d", "power": "90 kW"}]
    assert data["conveyor"] == {"reversing": True}
    kept = with_values(text, {("belt", "width"): "36 in"})
    assert kept == text.replace("1000 mm", "36 in")
    assert tomllib.loads(with_values(text, {("belt", "width"): None}))["belt"] == {}


def test_a_value_over_several_lines_is_changed_too() -> None:
    text = '[belt]\nwidth = { value = "11 mm",\n  measured = true }\nmarking = "x"\n'
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        text = text.replace(",\n ", ",")
    made = with_values(text, {("belt", "width"): "12 mm"})
    assert tomllib.loads(made) == {"belt": {"width": "12 mm", "marking": "x"}}
