"""Every figure that a question prints stands in its worksheet: walked over all questions.

The class of fault: an answer says a number that nobody can have explained.
"""

from __future__ import annotations

import json
import re
from contextlib import nullcontext
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

import pypdfium2
import pytest
from click.testing import CliRunner

from actions.recorded import NOW, Recorded, day
from splicewright.actions.question import Inquiry, Source
from splicewright.cli import main
from splicewright.cli.questions import QUESTIONS, inquiry_of
from splicewright.files.question import answers
from splicewright.quantities import Kind, Line, Record, key_of
from splicewright.sheets.pages.report import printed
from splicewright.store import State
from splicewright.store.facts.joint_facts import DueSet, Mode, Task
from splicewright.store.facts.plant_facts import BeltPlaced, DamageFound, Grade
from strategies import EXAMPLES

SITE = EXAMPLES / "karst-hollow"
HISTORY = SITE / "history"
ITEMS = """item,per year,lead time [weeks],each,planned,shelf life [weeks],on shelf
fastener kit,0.5,6,1,0,,1
joint sealant,6,3,2,0,26,4
"""
COSTS = {"planned": "6000", "failure": "40000"}
ASKED: dict[str, dict[str, Any]] = {
    "wear": {"readings": HISTORY / "incline-wear.csv", "today": "2026-11-01"},
    "life": {"lives": HISTORY / "joint-lives.csv", "today": "2026-11-01", "next": "2000 h",
             "use_a_day": "16 h"},
    "when": {"lives": HISTORY / "joint-lives.csv", "use_a_day": "16 h", **COSTS},
    "when, inspections": {"every": "4000 h", "delay": "600 h", "look": "250", **COSTS,
                          "use_a_day": "16 h"},
    "stock": {"items": ITEMS},
    "shutdown": {"tasks": HISTORY / "incline-shutdown.toml"},
    "choose": {"joints": HISTORY / "incline-renewals.csv", "window": "24 h", "crew": "4"},
    "decide": {"options": HISTORY / "flat-torn-place.toml"},
    "fleet": {"until": "2026-01-29", "stop_cost": "1500", "failure_cost": "24000"},
    "planner": {
        "until": "2026-01-29", "after": "2026-03-12", "planned_cost": "3000", "look_cost": "5",
        "failure_cost": "24000", "currency": "EUR", "warning": "240 h", "lead_time": "3 weeks",
    },
}  # fmt: skip
"""Questions whose answers are written with a worksheet beside them."""
BY_REGISTER = {"fleet", "planner"}

_TIME = r"\d+ (?:h|min|s)(?: \d+ (?:min|s))?"
_NUMBER = re.compile(
    rf"(?<![\w.#-])(over |under |)({_TIME}(?![a-z])|\d+(?: \d{{3}})*(?:\.\d+)? ?(?:kt|%|mm|m\b)|"
    r"\d+(?: \d{3})*(?:\.\d+)?)(?![\w-]|\.\d)"
)
_SI = {"h": 3600.0, "min": 60.0, "s": 1.0, "kt": 1e6, "%": 0.01, "mm": 1e-3, "m": 1.0, "": 1.0}
_NO_FIGURES = re.compile(
    r"\d{4}-\d\d-\d\d|K\d-\w+|K\d\b|joint \d: |tear 40 m behind the tail|"  # dates, names
    r"^ *\d+\. |^  \d+ (?=\(advised\)|  )|"  # places and ways counted, stocks of the table
    # what the method sets
    r"within 5 % of|63 % failed|90 %|nine in ten|6 or more do|Believed beforehand.*"
)
"""What is no figure of the answer. Dates stand as times from the last reading."""


def recorded(folder: Path) -> Recorded:
    """A register with everything in it that a fleet's list and a planner's page can name: joints
    that failed, one unfit, stops that lasted, a worn place near its limit, damage, a due task."""
    site = Recorded(folder)
    one, two = site.conveyor("K2"), site.conveyor("K5")
    for conveyor, lives in ((one, (270.0, 285, 300, 310, 320, 335)), (two, (390.0, 410, 160))):
        for n, life in enumerate(lives):
            mode = Mode.BELT_CHANGED if life == 160 else Mode.PULL_OUT
            site.joint(conveyor, f"F{n}", 10.0 * n, removed=10.0 * n + life, mode=mode)
            site.joint(conveyor, f"S{n}", 10.0 * n + life + 0.25 * (n + 1))
    site.joint(two, "BAD", 500.0, looks=((700.0, False),))
    for conveyor in (one, two):
        site.meter(conveyor, (0, "0 h"), (700, "8400 h"), (730, "8760 h"))
    for when, typed in ((300, "8.9 mm"), (420, "7.5 mm"), (540, "6.9 mm"), (660, "5.2 mm"),
                        (725, "4.4 mm")):  # fmt: skip
        site.reading(when, one, "carry cover", Kind.LENGTH, typed, "limit 3 mm")
    belt = uuid4()
    found = DamageFound(belt, uuid4(), 37.0, 0.4, Grade.REPAIR)
    site.say(728, BeltPlaced(belt, two, "main", 240.0), found)
    young = next(j for j in site.register.joints() if j.state is State.RUNNING)
    site.say(731, DueSet(young.joint, Task.INSPECT, day(700), "lead said so"))
    return site


def asked(name: str, folder: Path) -> tuple[Inquiry[Any, Any], Any]:
    given = dict(ASKED[name])
    if name == "stock":
        (folder / "items.csv").write_text(given["items"], "utf-8")
        given["items"] = folder / "items.csv"
    inquiry = inquiry_of(name.partition(",")[0])
    if name in BY_REGISTER:
        register = recorded(folder).register
        by = Source(lambda: nullcontext(register), named=True, clock=lambda: NOW)
        return inquiry, inquiry.answer(answers(inquiry.asked, given, "program"), by)
    source = Source(nullcontext, named=False, clock=lambda: datetime(2026, 11, 1, tzinfo=UTC))  # type: ignore[arg-type]
    return inquiry, inquiry.answer(answers(inquiry.asked, given, "program"), source)


def read_back(text: str) -> tuple[float, float]:
    """A printed figure in SI, and half of its last place."""
    text = text.strip()
    if re.fullmatch(_TIME, text):
        parts = re.findall(r"(\d+) (h|min|s)", text)
        value = sum(float(n) * _SI[unit] for n, unit in parts)
        number, unit = parts[-1]
        return value, 0.501 * _SI[unit] * 10.0 ** max(0, len(number) - 4)  # told to four places
    found = re.fullmatch(r"([\d. ]*\d) ?(\D*)", text)
    assert found is not None, text
    digits, unit = found[1].replace(" ", ""), _SI[found[2].strip()]
    places = len(digits.partition(".")[2])
    step = 10.0**-places
    if not places and not found[2] and len(digits) > 3:  # money is told to three places
        step = 10.0 ** (len(digits) - 3)
    return float(digits) * unit, 0.501 * step * unit


def unexplained(words: list[str], record: Record) -> list[tuple[str, str]]:
    """Printed figures that no entry of the worksheet has."""
    values = [float((e.figure if isinstance(e, Line) else e).value) for e in record.entries]
    missing = []
    for line in words:
        hours = re.sub(r"(\d+) of (\d+) crew hours", r"\1 h of \2 h", line)
        for bound, text in _NUMBER.findall(_NO_FIGURES.sub(" ", hours)):
            value, tolerance = read_back(text)
            if bound:
                low, high = (value, 1.0) if bound == "over " else (0.0, value)
                hit = any(low <= v <= high for v in values)
            else:
                hit = any(abs(v - value) <= tolerance for v in values)
            if not hit:
                missing.append((text, line))
    return missing


@pytest.mark.parametrize("name", sorted(ASKED))
def test_every_printed_figure_is_in_the_worksheet(name: str, tmp_path: Path) -> None:
    inquiry, answer = asked(name, tmp_path)
    record = inquiry.worksheet(answer)
    assert record is not None and record.entries
    told = inquiry.document(answer, "metric").lines()
    told = [line for line in told if "| " not in line or "%" in line]
    assert not unexplained(told, record)


@pytest.mark.parametrize("name", sorted(ASKED))
def test_each_key_is_explained_from_the_folder(name: str, tmp_path: Path) -> None:
    inquiry, answer = asked(name, tmp_path)
    record = inquiry.worksheet(answer)
    assert record is not None
    keys = [key_of(entry) for entry in record.entries]
    assert len(keys) == len(set(keys))
    for entry in record.entries:
        if isinstance(entry, Line):
            assert {k for _, k in entry.inputs if not k.startswith("=")} <= set(keys), key_of(entry)
    out = tmp_path / "out"
    inquiry.write(answer, out, "metric", "A4")
    listed = CliRunner().invoke(main, ["explain", str(out), "--json"])
    assert [row["key"] for row in json.loads(listed.output)] == keys
    said = CliRunner().invoke(main, ["explain", str(out), keys[-1]])
    assert said.exit_code == 0 and said.output.startswith(keys[-1])


def test_no_question_is_left_out() -> None:
    # A plan, a study, a squaring and an assessment hold their worksheet themselves.
    others = {"assess", "at-rest", "square", "tension"}
    assert {name.partition(",")[0] for name in ASKED} | others == set(QUESTIONS)


def test_a_use_is_shown_in_what_it_is_counted_in(tmp_path: Path) -> None:
    """Wear by mass carried was explained in hours."""
    inquiry, answer = asked("wear", tmp_path)
    record = inquiry.worksheet(answer)
    assert record is not None
    likely = record.find("wear.carry-cover-middle.likely")
    assert isinstance(likely, Line) and likely.figure.show().endswith("kt")


@pytest.mark.parametrize("name", sorted(ASKED))
def test_no_answer_goes_out_without_how_far_to_trust_it(name: str, tmp_path: Path) -> None:
    inquiry, answer = asked(name, tmp_path)
    document = inquiry.document(answer, "metric")
    assert document.cautions
    terminal = "\n".join(document.lines())
    paper = "".join(
        page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(printed(document))
    )
    odd = re.compile(r"[\s\ufffe\u00ad‐-]")  # a line may end within a word
    paper = odd.sub("", paper)
    for said in document.cautions:
        assert f"  - {said}" in terminal
        assert odd.sub("", said) in paper
    assert document.invented == ("Invented data" in terminal)
