"""A document as PDF: the answer, its key numbers, then one section after another."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from functools import cache
from typing import Any

from splicewright.job import DEFER
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.pdf import TEMPLATES, render
from splicewright.sheets.pages.document import RESTS, Document, Section, as_sentence, sentences
from splicewright.sheets.pages.drawings import MARGIN, Drawings


def printed(document: Document, paper: Paper = A4) -> bytes:
    """Return a document as PDF; the same content gives the same bytes.

    Raises
    ------
    OutputError
        It cannot be made.
    """
    drawings = Drawings({}, {})
    wide = paper.width - 2 * MARGIN
    sections = [_laid_out(section, drawings, wide) for section in document.sections]
    if document.rests:
        rests = Section(RESTS, sentences(document.rests))
        sections.append(_laid_out(rests, drawings, wide))
    data: dict[str, Any] = {
        "mark": document.kind,
        "title": f"{document.kind}, {document.name}",
        "job": document.name,
        "invented": document.invented,
        "paper": {"width": paper.width, "height": paper.height, "margin": MARGIN},
        "source": document.source,
        "answer": document.answer,
        "numbers": [asdict(number) for number in document.numbers],
        "sections": sections,
        "trust": document.trust,
        "cautions": document.cautions,
        "defer": "" if document.signs else DEFER,  # who signs is who must check
        "drawings": drawings.captions,
    }
    for name in ("levels", "sides"):
        if told := getattr(document, name):
            data[name] = [asdict(one) for one in told]
    if document.signs:
        data["signs"] = document.signs
    if document.worksheet is not None:
        data["worksheet"] = document.worksheet()
    data["id"] = document.id or identity_of(json.dumps(data, sort_keys=True))
    return render(_template(), data, drawings.files, name="report")


def identity_of(content: str) -> str:
    """Ten letters and digits that tell one content from another."""
    return hashlib.sha256(content.encode()).hexdigest()[:10].upper()


def _laid_out(section: Section, drawings: Drawings, wide: float) -> dict[str, Any]:
    names = []
    for diagram in section.diagrams:
        parts = diagram.parts or (diagram.draw,)
        for number, draw in enumerate(parts, 1):
            name = diagram.name if len(parts) == 1 else f"{diagram.name}-{number}"
            drawings.paste(name, draw(), wide)
            names.append(name)
    on_paper = ("warns", "opens", "beside", "words", "strong", "bars")
    return {name: getattr(section, name) for name in on_paper if getattr(section, name)} | {
        "title": section.title,
        "says": section.says,
        "drawings": names,
        "numbers": [asdict(number) for number in section.numbers],
        "head": section.head,
        "table": section.table,
        "listed": [
            asdict(point) | {"why": as_sentence(point.why) if point.why else ""}
            for point in section.listed
        ],
        "points": section.points,
    }


@cache
def _template() -> str:
    names = ("style", "worksheet", "report")
    return "\n".join((TEMPLATES / f"{name}.typ").read_text("utf-8") for name in names)
