"""Wherever a forecast tells hours of running ahead, a date or a number of days stands beside.

Every answer that tells a forecast is walked: in the terminal, on its page, and in its PDF, of the
invented site, whose meters say how much its belts run a day.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from typing import Any

import pypdfium2
import pytest
from fastapi.testclient import TestClient

from splicewright.actions.fleet.question import FLEET
from splicewright.actions.inspection_interval.question import LOOK_HERE, WHEN
from splicewright.actions.life.question import LIFE
from splicewright.actions.planner import PLANNER
from splicewright.actions.question import Inquiry, Source
from splicewright.actions.shutdown.question import CHOOSE
from splicewright.actions.stock.question import STOCK
from splicewright.actions.wear.question import WEAR
from splicewright.sheets.pages.report import printed
from splicewright.store.sql.register import SqlRegister
from web.conftest import START

_HOURS = re.compile(r"(?<![\d.])(\d{3,}) h\b")
_DATED = re.compile(r"\b2\d{3}-\d\d-\d\d\b|\d days\b|no date")
_PAST = re.compile(
    r"has run \d+ h|Has run|Weibull law|meter|by conveyor|"  # what was, and parameters of a law
    r"the figures given|stated with the question|half fail within"  # what was typed, a table's head
)
_COSTS: dict[str, Any] = {"planned": 3000.0, "failure": 24000.0}
ASKED: dict[str, tuple[Inquiry[Any, Any], Mapping[str, Any]]] = {
    "fleet": (FLEET, {}),
    "wear": (WEAR, {}),
    "life": (LIFE, {"next": "1000 h"}),
    "when": (WHEN, {**_COSTS, "look": 120.0, "every": "4000 h", "delay": "600 h"}),
    "inspection-interval": (LOOK_HERE, {**_COSTS, "look": 120.0, "every": "4000 h",
                                        "delay": "600 h"}),
    "stock": (STOCK, {"lead_time": "6 weeks"}),
    "choose": (CHOOSE, {"window": "12 h", "crew": 6, "until": "2027-03-01", "each": "8 h",
                        "renewal": 3000.0, "failure": 24000.0}),
    "planner": (PLANNER, {"planned_cost": 3000.0, "failure_cost": 24000.0, "currency": "EUR",
                          "warning": "200 h"}),
}  # fmt: skip
NOTHING_TOLD = {"stock", "choose"}
"""These tell no hours of running at all."""


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    return example_register


def undated(parts: list[str]) -> list[str]:
    """Parts that tell hours ahead and no date."""
    return [
        part for part in parts
        if _HOURS.search(_PAST.sub("", part)) and not _DATED.search(part) and not _PAST.search(part)
    ]  # fmt: skip


def answered(register: SqlRegister, name: str) -> tuple[Inquiry[Any, Any], Any]:
    inquiry, given = ASKED[name]
    source = Source(lambda: nullcontext(register), True, lambda: START)
    use = {} if name == "wear" else {"use": "time"}
    return inquiry, inquiry.answer(inquiry.asked(**given, **use), source)


@pytest.mark.parametrize("name", ASKED)
def test_terminal_and_paper_tell_dates_beside_hours(register: SqlRegister, name: str) -> None:
    try:
        inquiry, answer = answered(register, name)
    except Exception as error:
        assert name == "stock" and "sized" in str(error), error  # no store is kept there
        return
    document = inquiry.document(answer, "metric")
    lines = document.body()
    if name == "life":  # the first line is the headline, the second its dates
        lines = [" ".join(lines[:2]), *lines[2:]]
    assert not undated(lines)
    if name not in NOTHING_TOLD:
        assert any(_DATED.search(line) for line in lines), lines
    pdf = pypdfium2.PdfDocument(printed(document))
    paper = "".join(page.get_textpage().get_text_bounded() for page in pdf)
    paper = re.sub(r"[()\s]|￾", "", paper)
    beside = {m for line in lines for m in re.findall(r"\d+ h \(2\d{3}-\d\d-\d\d\)", line)}
    missing = [both for both in sorted(beside) if re.sub(r"[() ]", "", both) not in paper]
    assert not missing, missing


@pytest.mark.parametrize(
    "page",
    ["/fleet", "/planner?planned_cost=3000&failure_cost=24000&warning=200+h&use=time",
     "/conveyors/{c}/forecast", "/joints/{j}/forecast",
     "/conveyors/{c}/inspection-interval?look=120&planned=3000&failure=24000&every=4000+h"
     "&delay=600+h&use=time"],
)  # fmt: skip
def test_pages_tell_dates_beside_hours(
    register: SqlRegister, signed_in: Callable[[str], TestClient], page: str
) -> None:
    viewer = signed_in("viewer")
    joints = [j for j in register.joints() if j.state.value == "running"]
    seen = 0
    for joint in joints[:4] if "{" in page else joints[:1]:
        text = viewer.get(page.format(c=joint.conveyor, j=joint.joint)).text
        main = text[text.index("<main") : text.index("</main>")]
        main = re.sub(r"(?s)<(form|script|template|svg|details class=\"sheet\").*?</\1?>", "", main)
        main = re.split(r"How (?:each|every) ", main)[0]  # below it numbers are explained, not told
        blocks = re.split(r"</?(?:p|li|tr|dl|h\d|div|ul|ol|summary)\b[^>]*>", main)
        told = [" ".join(html.unescape(re.sub(r"<[^>]+>", " ", b)).split()) for b in blocks]
        assert not undated([t for t in told if t])
        seen += sum(bool(_DATED.search(t)) for t in told)
    assert seen
