"""Typed values: the page's reader and ours give the same values and the same sentences."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from splicewright.errors import UnitError
from splicewright.job import AgainstLimits, Reading, judge, likely, printed_limits
from splicewright.job.acceptance.likely import is_likely
from splicewright.quantities import POLICY, Kind, read, sentence
from splicewright.web.app.rendering import STATIC
from splicewright.web.job.steps import unit_table

CASES: list[tuple[str, Kind]] = [
    *((text, kind) for kind in Kind for text in POLICY[kind].example.split(" or ")),
    *((f"7{' ' if unit.name[:1].isalpha() else ''}{unit.name}", kind)
      for kind in Kind for unit in POLICY[kind].accepted),
    *((text, Kind.LENGTH) for text in (
        "11.5 mm", "19/32 in", "1-3/8 in", "1 3/8 in", "1 - 3/8 in", "6 ft 3 in", "6' 3\"",
        "6′ 3″", "6 ft 3-1/2 in", "½ in", "1½ in", "1 ½ in", "3⁄8 in", "1⁄2 in", ".5 in", "5. mm",
        "-3 mm", "−3 mm", "+3 mm", "1e-2 m", "1E2mm", "11.5mm", " 11.5  mm ", "11.5 mm",
        "12 MM", "12 Mm", "12 IN", "3 Feet", "12", "", "   ", "mm", "1/0 in", "1,5 mm", "1.2.3 mm",
        "12 kg", "12 furlong", "1 in -3 mm", "1 in + 3 mm", "１２ mm", "12 mm mm", "1e999 m",
        "9" * 81, "½", "3/8", "1--3/8 in", "0 mm", "12 mm!", "twelve mm", "12 mm 13", "NaN mm",
        "Infinity m", "0x10 mm", "1_000 mm", "12 mm3", "²3 mm", "1 in 2",
    )),
    *((text, Kind.TORQUE) for text in (
        "38 N m", "38 N·m", "38 N*m", "38 Nm", "28 lbf ft", "28 LBF FT", "28 ft lb", "38 nm",
        "38 N m 2 N m", "38 MN", "0.5 kN m",
    )),
    *((text, Kind.TEMPERATURE) for text in (
        "20 degC", "20 °C", "-5 °C", "-5 degC", "−40 F", "68 °F", "-300 degC", "-1 K", "20 C",
        "20 k",
    )),
    *((text, Kind.FORCE) for text in ("5 mN", "5 MN", "5 mn", "5 KN", "5 lb", "5 daN")),
    *((text, Kind.MASS_FLOW) for text in ("600 t/h", "600 t / h", "600 tph", "600 TPH", "5 ton/h")),
    *((text, Kind.SHARE) for text in ("85 %", "0.85", "85%", "85 percent")),
    *((text, Kind.TIME) for text in ("45 min", "1 h 20 min", "2 weeks", "90 s", "1 d 2 h")),
    *((text, Kind.AREA) for text in ("5 m2", "5 m²", "5 m^2", "5 mm2", "5 in²", "5 m22")),
]  # fmt: skip


@pytest.fixture(scope="module")
def reader(browser: Browser) -> Iterator[Page]:
    """A page that holds the reader and nothing else."""
    page = browser.new_page()
    page.evaluate((STATIC / "job-reading.js").read_text("utf-8"))
    page.evaluate((STATIC / "job-state.js").read_text("utf-8"))
    yield page
    page.close()


def _ours(text: str, kind: Kind) -> tuple[float | None, str]:
    try:
        return read(text, kind), ""
    except UnitError as error:
        return None, error.faults[0].sentence


def _theirs(page: Page, cases: list[tuple[str, Kind]]) -> list[tuple[float | None, str]]:
    found = page.evaluate(
        """([cases, table]) => cases.map(([text, kind]) => {
          const { read, UnreadableError } = splicewright.reading;
          try { return [read(text, kind, table), ""]; }
          catch (error) {
            if (!(error instanceof UnreadableError)) return [null, `broke: ${error.stack}`];
            return [null, error.message];
          }
        })""",
        [[[text, kind.value] for text, kind in cases], unit_table(set(Kind))],
    )
    return [(value, fault) for value, fault in found]


def _compare(page: Page, cases: list[tuple[str, Kind]]) -> None:
    differ = []
    for (text, kind), theirs in zip(cases, _theirs(page, cases), strict=True):
        ours = _ours(text, kind)
        same = (
            theirs[1] == ours[1]
            if ours[0] is None or theirs[0] is None
            # Far below the 1e-9 to which a fact's value must be what was typed.
            else theirs[0] == pytest.approx(ours[0], rel=1e-14, abs=0)
        )
        if not same or (ours[0] is None) != (theirs[0] is None):
            differ.append(f"{text!r} as {kind}: {ours} here, {theirs} in the page")
    assert not differ, "\n".join(differ)


def test_both_readers_agree(reader: Page) -> None:
    _compare(reader, CASES)


def test_both_readers_agree_on_what_nobody_thought_of(reader: Page) -> None:
    chance = random.Random(7)
    pieces = ["1", "12", "3.5", ".5", "3/8", "-", "+", " ", "  ", "mm", "in", "ft", "m", "e3", "⁄",
              "½", ",", ".", "'", '"', "N", " m", "kN", "/", "2", "%", "°C", "K", "h", "min", "lb",
              "x", "×"]  # fmt: skip
    cases = [
        ("".join(chance.choices(pieces, k=chance.randint(1, 7))), chance.choice(list(Kind)))
        for _ in range(3000)
    ]
    _compare(reader, cases)


def test_the_page_refuses_digits_of_other_scripts(reader: Page) -> None:
    ((value, fault),) = _theirs(reader, [("٣ mm", Kind.LENGTH)])
    assert value is None and "cannot be read" in fault


@pytest.mark.parametrize(
    ("typed", "unit", "completed"),
    [
        ("11.5", "mm", "11.5 mm"),
        ("11,5", "mm", "11.5 mm"),  # keypads with a comma only
        ("0,125", "in", "0.125 in"),
        ("11,5 mm", "mm", "11.5 mm"),
        ("3/8", "in", "3/8 in"),
        ("1-3/8", "in", "1-3/8 in"),
        ("1½", "in", "1½ in"),
        ("-3", "mm", "-3 mm"),
        ("12 in", "mm", "12 in"),
        ("12", "", "12"),
        ("1,200", "mm", None),  # thousands or thousandths: asked, never guessed
        ("1,2,3", "mm", "1,2,3"),
    ],
)
def test_a_bare_number_takes_the_unit_of_its_box(
    reader: Page, typed: str, unit: str, completed: str | None
) -> None:
    found = reader.evaluate(
        """([typed, unit]) => {
          try { return splicewright.reading.completed(typed, unit); }
          catch (error) {
            return error instanceof splicewright.reading.UnreadableError ? null : "?";
          }
        }""",
        [typed, unit],
    )
    assert found == completed


@pytest.mark.parametrize("value", [0.0109, 0.011, 0.0135, 0.016, 0.0161, 0.00138, 0.0014, 0.00141])
@pytest.mark.parametrize("limits", [(0.011, 0.016), (0.0, 0.0013869), (None, None), (0.011, None)])
def test_both_judge_alike(reader: Page, value: float, limits: tuple[Any, Any]) -> None:
    told = {f"limit{n}": (v, Kind.LENGTH) for n, v in enumerate(limits) if v is not None}
    said = sentence(" to ".join(f"{{{name}}}" for name in told), **told)
    reading = Reading("thickness", Kind.LENGTH, *limits, 1, said)
    low, high = printed_limits(reading)
    theirs = reader.evaluate(
        "([limits, value]) => splicewright.jobState.judge(limits, value)",
        [{"low": low, "high": high}, value],
    )
    assert theirs == judge(reading, value).value


def test_a_limit_counts_as_it_is_printed() -> None:
    # "at most 1.4 mm" on the sheet: whoever reads 1.4 mm off the tape has kept it.
    reading = Reading("difference", Kind.LENGTH, 0.0, 0.0013869, 1, sentence("at most 1.4 mm"))
    assert judge(reading, 0.0014) is AgainstLimits.WITHIN
    assert judge(reading, 0.00145) is AgainstLimits.HIGH
    open_ended = Reading("width", Kind.LENGTH, None, None, 1, sentence(""))
    assert judge(open_ended, 1.0) is AgainstLimits.OPEN


def test_an_entry_whose_receipt_was_lost_shows_once(reader: Page) -> None:
    said = {"fact": "f1", "seq": 3, "by": "Ada", "at": "2026-05-04T06:00:00Z", "device": "p",
            "photo": "0" * 64, "caption": "", "step": "cut"}  # fmt: skip
    state: dict[str, Any] = {
        "ticks": [], "values": [], "holds": [], "photos": [said], "times": {}, "handed": [],
        "signed": [], "closed": None, "changed": False,
    }  # fmt: skip
    local = [
        {"id": "f1", "kind": "photograph added", "what": {"step": "cut"}, "state": "waits"},
        {"id": "f2", "kind": "photograph added", "what": {"step": "cut"}, "state": "waits"},
    ]
    shown = reader.evaluate(
        "([state, local]) => splicewright.jobState.merged(state, local).photos.map(p => p.fact)",
        [state, local],
    )
    assert shown == ["f1", "f2"]


def test_both_expect_the_same(reader: Page) -> None:
    """Random readings, values and boxes before: the page asks where the register would."""
    draw = random.Random(14)
    cases, ours = [], []
    for _ in range(400):
        low = draw.choice([None, 0.0, draw.uniform(1e-3, 2.0)])
        high = draw.choice([None, (low or 0.0) + draw.uniform(1e-3, 5.0)])
        kind = draw.choice([Kind.LENGTH, Kind.DISTANCE, Kind.TORQUE, Kind.TEMPERATURE, Kind.TIME])
        said = sentence("{planned}", planned=(draw.uniform(1e-3, 400.0), kind))
        plain = sentence("equal")
        asked = Reading("x", kind, low, high, 3, draw.choice([said, plain]))
        span = likely(asked, 1.2)
        value = 10 ** draw.uniform(-4, 3)
        before = [value * 10 ** draw.uniform(-1.5, 1.5) for _ in range(draw.randrange(3))]
        ours.append(is_likely(span, kind, value, before))
        cases.append([{"likely": span, "kind": kind.value}, value, before])
    theirs = reader.evaluate(
        "cases => cases.map((c) => splicewright.jobState.isLikely(...c))", cases
    )
    assert theirs == ours
    assert 100 < sum(ours) < 300
