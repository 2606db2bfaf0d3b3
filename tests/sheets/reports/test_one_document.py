"""What an answer says stands once: its paper, its text and its page tell the same words."""

from __future__ import annotations

import io
import re
from functools import cache

import pdfplumber
import pytest

from sheets.reports.test_conveyor import studied
from sheets.reports.test_inspection import assessed, squared
from splicewright.joint.inspection.verdict import Verdict
from splicewright.quantities import System
from splicewright.sheets.canvas.paper import A4, LETTER, Paper
from splicewright.sheets.pages.document import Document, Level, Section, Side, as_sentence
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.conveyor import conveyor_report
from splicewright.sheets.reports.inspection import assessment_report
from splicewright.sheets.reports.squaring import squaring_report
from splicewright.web.app.rendering import environment

PAPERS: dict[System, Paper] = {"metric": A4, "inch": LETTER}
ANSWERS = (
    *(("squaring", name) for name in ("incline-trailing-end", "flat-worn-edge")),
    *(("assessment", name) for name in ("incline-edge-plates", "typed-in", "flat-worn-pin")),
    *(("conveyor", name) for name in ("incline", "flat", "shuttle", "coal", "downhill")),
)


def told(kind: str, name: str, system: System) -> Document:
    if kind == "squaring":
        return squaring_report(squared(name), system)
    if kind == "assessment":
        return assessment_report(assessed(name), system)
    return conveyor_report(studied(name), system)


@cache
def pages(kind: str, name: str, system: System) -> tuple[str, ...]:
    with pdfplumber.open(io.BytesIO(printed(told(kind, name, system), PAPERS[system]))) as pdf:
        return tuple(page.extract_text() or "" for page in pdf.pages)


def letters(words: str) -> str:
    """Without what a line's end, or a narrow column, puts between them."""
    return re.sub(r"\s", "", words)


def everything(document: Document) -> list[str]:
    sections = document.sections
    words = [*document.answer, *document.cautions, document.source, document.name]
    words += [one.value for one in document.numbers]
    words += [word for side in document.sides for word in (side.value, side.does)]
    words += [one.says for one in document.levels] + list(document.signs)
    words += [section.says for section in sections] + [s.title for s in sections if not s.warns]
    words += [point for section in sections for point in section.points]
    words += [cell for s in sections for row in (s.head, *s.table) for cell in row]
    words += [word for s in sections for one in s.listed for word in (one.says, one.state, one.why)]
    return words


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize(("kind", "name"), ANSWERS)
def test_the_paper_tells_all_that_the_document_has(kind: str, name: str, system: System) -> None:
    document = told(kind, name, system)
    # Columns stand beside each other on a page, so words are looked for, whatever lies between.
    there = set(" ".join(pages(kind, name, system)).split())
    whole = letters(" ".join(pages(kind, name, system)))
    for said in everything(document):
        assert letters(said) in whole or set(said.split()) <= there, said
    assert document.id in whole and letters(document.kind) in whole


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize(("kind", "name"), ANSWERS)
def test_no_page_is_empty_and_no_heading_stands_last(kind: str, name: str, system: System) -> None:
    document = told(kind, name, system)
    titles = {section.title for section in document.sections} | {"Worksheet"}
    for page in pages(kind, name, system):
        lines = page.splitlines()
        assert len(lines) > 12
        assert lines[-2] not in titles  # the last line is the foot's


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("name", ["incline-edge-plates", "typed-in", "flat-worn-pin"])
def test_verdict_and_place_to_sign_stand_on_page_one(name: str, system: System) -> None:
    first = " ".join(pages("assessment", name, system)[0].split())
    made = assessed(name)
    for said in ("Decided by", "What", "Until, inspected every", made.decision):
        assert said in first
    with pdfplumber.open(
        io.BytesIO(printed(assessment_report(made, system), PAPERS[system]))
    ) as pdf:
        words = pdf.pages[0].extract_words(extra_attrs=["size"])
    largest = max(word["size"] for word in words)
    said = " ".join(word["text"] for word in words if word["size"] == largest)
    assert said == as_sentence(made.verdict.sentence)


def test_grip_and_sag_that_do_not_hold_are_told() -> None:
    # A light take-up pulls too little: less than the least tension that the sag asks for.
    from splicewright.tension import study
    from strategies import conveyor_of, outline

    light = conveyor_of(outline(take_up={"kind": "gravity", "mass": "150 kg"}))
    made = study(light, samples=64)
    assert any(not case.sag_kept for case in made.demand.cases if case.case.steady)
    document = conveyor_report(made)
    assert any("TOO LARGE" in line for line in document.lines())
    assert any("SLIPS" in line for line in document.lines()) is any(
        not c.grip_kept for c in made.demand.cases if c.case.steady or c.case.transient
    )


def test_text_tells_the_level_in_capitals_and_both_sides() -> None:
    made = assessed("incline-edge-plates")
    assert made.verdict is Verdict.REDUCE
    assert f"{made.verdict.sentence.upper()}." in assessment_report(made).lines()
    lines = squaring_report(squared("incline-trailing-end")).lines()
    assert any(line.startswith("  left edge, square line: 299 mm from the rough") for line in lines)


def test_a_page_shows_levels_sides_and_warnings_too() -> None:
    document = Document(
        "Kind", "name", "source", ("Only with less.",),
        sections=(Section("", ("none",)), Section("Check", ("It runs away.",), warns=True)),
        levels=(Level("STOP", False), Level("ONLY WITH LESS", True)),
        sides=(Side("left edge", "3 mm", "from the end", "move 1 mm"),),
    )  # fmt: skip
    shown = environment().get_template("document.html").make_module()
    page = f"{shown.headline(document)}{shown.sections(document)}"  # type: ignore[attr-defined]
    assert '<b class="state">ONLY WITH LESS</b>' in page and ">STOP</span>" in page
    assert "Left edge: <b>3 mm</b> from the end; <b>move 1 mm</b>" in page
    assert '<div class="note warn"><p>It runs away.</p>' in page.replace("\n", "")
    assert "<h2></h2>" not in page
    kept = document.data()
    for late in ("levels", "sides"):  # an answer kept before there were any
        del kept[late]
    for section in kept["sections"]:
        del section["warns"]
    page = f"{shown.headline(kept)}{shown.sections(kept)}"  # type: ignore[attr-defined]
    assert "Only with less." in page and "It runs away." in page
