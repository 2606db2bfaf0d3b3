"""Every question of every door: one label, one limit, one fault that names what stands there."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from click.testing import CliRunner
from pydantic_core import PydanticCustomError

from splicewright.actions.belt.question import BeltAsked, DamageAsked, PieceAsked
from splicewright.actions.shutdown.question import JobsAsked
from splicewright.cli import main
from splicewright.cli.questions import QUESTIONS, inquiry_of
from splicewright.errors import InputError
from splicewright.files.answers import Day, FileOf, Money, OneOf, Several, Tick, Words
from splicewright.files.question import Asked, Question, answers, asked_by
from web.calling import contract

FORMS: dict[str, type[Question]] = {
    "belt": BeltAsked, "piece": PieceAsked, "damage": DamageAsked
}  # fmt: skip
"""Asked on a page only: what is recorded of a belt."""


def every() -> Iterator[tuple[str, type[Question], Asked]]:
    models = {name: inquiry_of(name).asked for name in QUESTIONS} | FORMS
    for name, model in models.items():
        yield from ((name, model, field) for field in asked_by(model))


@pytest.mark.parametrize("door", ["command", "page", "program"])
def test_a_wrong_answer_is_named_by_what_stands_at_the_door(door: Any) -> None:
    for name, model, field in every():
        one = field.answer.of if isinstance(field.answer, Several) else field.answer
        if isinstance(one, FileOf | Words):
            continue
        with pytest.raises(InputError) as caught:
            answers(model, {field.name: "three wet stones"}, door)
        keys = [fault.key for fault in caught.value.faults]
        assert field.label(door) in keys, (name, field.name, keys)
        assert field.name in keys or door != "program"


def test_every_field_says_what_it_is() -> None:
    for name, _, field in every():
        assert field.ask.label and not field.ask.label.endswith("."), (name, field.name)
        if field.ask.example and not isinstance(field.answer, FileOf | Words | Tick):
            shown = field.ask.example
            if shown != "one to each job":
                field.answer.check(shown)  # what a form proposes is accepted
            if field.ask.inch:
                field.answer.check(field.ask.inch)


def test_what_reads_alike_is_one_question() -> None:
    """One label, one kind of answer, one value where nobody states one (None: worked out, and
    held elsewhere); what two commands call differently since their first release is named here."""
    names = {"Cost of a failure, its stop included": {"failure", "failure_cost"}}
    seen: dict[str, list[Asked]] = {}
    for _, _, field in every():
        seen.setdefault(field.ask.label, []).append(field)
    for label, fields in seen.items():
        assert {f.name for f in fields} == names.get(label, {fields[0].name}), label
        assert len({type(f.answer) for f in fields}) == 1, label
        stated = {f.default for f in fields if f.default not in (None, "")}
        assert label == "Shape" or len(stated) <= 1, label


@pytest.mark.parametrize("name", sorted(QUESTIONS))
def test_a_command_and_the_api_ask_what_is_declared(name: str) -> None:
    model = inquiry_of(name).asked
    told = " ".join(CliRunner().invoke(main, [name, "--help"]).output.split())
    for field in asked_by(model, "command"):
        assert field.label("command") in told
    described = contract()
    body = described["paths"][f"/{name}"]["post"]["requestBody"]["content"]["application/json"]
    schema = described["components"]["schemas"][body["schema"]["$ref"].rpartition("/")[2]]
    fields = asked_by(model, "program")
    assert set(schema["properties"]) == {field.name for field in fields}
    assert set(schema.get("required", ())) == {field.name for field in fields if field.required}


def test_a_form_says_all_that_is_wrong_at_once() -> None:
    """A required field that cannot be read broke the rule that is asked of it."""
    with pytest.raises(InputError) as caught:
        answers(PieceAsked, {"start": "wet stones", "length": "-3 m"}, "page")
    assert [f.key for f in caught.value.faults] == ["Piece inserted", "Begins at", "Length"]
    with pytest.raises(InputError) as caught:
        answers(DamageAsked, {"across": "10 in", "place": "-1 m", "length": "8 in"}, "page")
    assert [f.key for f in caught.value.faults] == [
        "How bad", "Damage found at", "From the centreline",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("across", "side", "lies"),
    [("", "", None), ("0 mm", "", 0.0), ("250 mm", "left", 0.25), ("250 mm", "right", -0.25)],
)
def test_where_damage_lies_across_the_belt(across: str, side: str, lies: float | None) -> None:
    """Not measured, on the centreline, or to one side; at the mark itself is a place as well."""
    given = {"place": "0 m", "length": "20 cm", "grade": "watch", "across": across, "side": side}
    found = answers(DamageAsked, given, "page").fact(uuid4())
    assert (found.place, found.length, found.across) == (0.0, 0.2, lies)


@pytest.mark.parametrize(("across", "side"), [("1 mm", ""), ("-1 mm", "left"), ("-1 mm", "")])
def test_damage_off_the_centreline_has_a_side(across: str, side: str) -> None:
    given = {"place": "0 m", "length": "20 cm", "grade": "watch", "across": across, "side": side}
    with pytest.raises(InputError, match="say on which side"):
        answers(DamageAsked, given, "page")


def test_no_question_takes_what_is_not_asked() -> None:
    for name in QUESTIONS:
        with pytest.raises(InputError, match="shoe_size: is not asked here"):
            answers(inquiry_of(name).asked, {"shoe_size": "43"}, "program")


def test_what_is_missing_is_said_beside_what_is_wrong() -> None:
    with pytest.raises(InputError) as caught:
        answers(inquiry_of("choose").asked, {"window": "12 h", "crew": "many"}, "page")
    assert [f.key for f in caught.value.faults] == [
        "People at work", "The shutdown after this one", "Crew hours of one renewal",
        "Cost of a failure, its stop included", "Cost of a renewal",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "value"), [("1 500", 1500.0), ("1'500", 1500.0), (1500, 1500.0), ("0", 0.0)]
)
def test_amounts_are_read_as_people_write_them(typed: object, value: float) -> None:
    assert Money().check(typed) == value


@pytest.mark.parametrize("typed", ["nan", "inf", "-1", "1e13", True, [], {}, "4,5", None])
def test_what_is_no_amount_is_refused(typed: object) -> None:
    with pytest.raises(ValueError, match="is no amount"):
        Money().check(typed)


@pytest.mark.parametrize("typed", [[], {}, 3, None, 2.5, True, "x" * 5000, "\ud800"])
def test_whatever_is_sent_is_refused_in_a_sentence(typed: object) -> None:
    """The class of fault: an answer of another type than any form sends must not break a check."""
    for name, model, field in every():
        if isinstance(field.answer, FileOf):
            continue
        try:
            answers(model, {field.name: typed}, "program")
        except InputError as error:
            assert all(f.sentence for f in error.faults), (name, field.name)


def test_a_word_of_a_choice_is_checked() -> None:
    kinds = OneOf({"time": "running time"})
    assert kinds.check("time") == "time"
    with pytest.raises(ValueError, match="accepted are time"):
        kinds.check("mass")


def test_the_interval_is_explained_from_its_folder(tmp_path: Path) -> None:
    """What `explain` shows is the number of the answer."""
    out = tmp_path / "when"
    words = ("when", "--planned", "6000", "--failure", "40000", "--damage-every", "4000 h",
             "--delay", "600 h", "--look", "250")  # fmt: skip
    asked = CliRunner().invoke(main, [*words, "--out", str(out)])
    assert asked.exit_code == 0, asked.output
    best = json.loads((out / "when.json").read_text("utf-8"))["look"]["rules"]["stated"]["interval"]
    for source in (out, out / "when.json", out / "worksheet.json"):
        told = CliRunner().invoke(main, ["explain", str(source), "interval.best", "--json"])
        assert told.exit_code == 0, told.output
        assert json.loads(told.output)[0]["figure"]["value"] == best
    words_ = CliRunner().invoke(main, ["explain", str(out), "interval.best"]).output
    assert "delay.assumed" in words_


def test_days_that_nobody_means_are_refused_at_every_question() -> None:
    """Found by random questions: a stop in the year 6267 overflowed the one after it."""
    days = [(name, field) for name, _, field in every() if isinstance(field.answer, Day)]
    assert len({name for name, _ in days}) > 3
    for name, field in days:
        for day in ("2026-05-04", "1900-01-01", "2200-01-01"):
            assert field.answer.check(day) == date.fromisoformat(day), name
        for beyond in ("6267-10-21", "2200-01-02", date(1899, 12, 31), datetime.max):
            with pytest.raises(
                PydanticCustomError, match="not believable; accepted is 1900 to 2200"
            ):
                field.answer.check(beyond)
    with pytest.raises(InputError, match='"9999-12-31 23:00" is not believable'):
        answers(JobsAsked, {"window": "12 h", "crew": "6", "begins": "9999-12-31 23:00"}, "page")


def test_a_shutdown_file_begins_on_a_day_that_can_be_meant(tmp_path: Path) -> None:
    text = """[shutdown]
name = "x"
window = "12 h"
begins = 9999-12-31T23:00:00
[[task]]
name = "a"
time = ["1 h", "2 h", "3 h"]
"""
    (tmp_path / "s.toml").write_text(text)
    told = CliRunner().invoke(main, ["shutdown", str(tmp_path / "s.toml")])
    assert told.exit_code != 0
    assert "s.toml:4: shutdown.begins: 9999-12-31 is not believable" in told.output
