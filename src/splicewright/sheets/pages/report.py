"""A report as PDF: the answer, its key numbers, then one section after another."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict
from functools import cache
from typing import Any

from splicewright.job import DEFER
from splicewright.sheets.canvas.paper import Paper
from splicewright.sheets.canvas.pdf import TEMPLATES, render
from splicewright.sheets.pages.drawings import MARGIN, Drawings
from splicewright.sheets.pages.section import Section, as_sentence


def key_number(name: str, value: str, note: str) -> dict[str, str]:
    """One of the key numbers under the answer."""
    return {"name": name, "value": value, "note": note}


def report(
    sheet: str,
    name: str,
    invented: bool,
    source: str,
    answer: Sequence[str],
    numbers: Sequence[dict[str, str]],
    sections: Sequence[Section],
    cautions: Sequence[str],
    drawings: Drawings,
    paper: Paper,
) -> bytes:
    """Return a report as PDF; the same content gives the same bytes.

    Parameters
    ----------
    sheet, name : its kind, and what it is about
    invented : the data are, and every page says so
    source : what it rests on, one line
    answer : in words, the first line large
    numbers : made by `key_number`
    sections : parts, with drawings by name, tables, points
    cautions : how far to trust it
    drawings : those the sections name
    """
    data: dict[str, Any] = {
        "mark": sheet,
        "title": f"{sheet}, {name}",
        "job": name,
        "invented": invented,
        "paper": {"width": paper.width, "height": paper.height, "margin": MARGIN},
        "source": source,
        "answer": list(answer),
        "numbers": list(numbers),
        "sections": [asdict(section) for section in sections],
        "cautions": list(cautions),
        "defer": DEFER,
        "drawings": drawings.told,
    }
    content = json.dumps(data, sort_keys=True).encode()
    data["id"] = hashlib.sha256(content).hexdigest()[:10].upper()
    return render(_template(), data, drawings.files, name="report")


@cache
def _template() -> str:
    return "\n".join((TEMPLATES / f"{name}.typ").read_text("utf-8") for name in ("style", "report"))


COST_CAUTIONS = (
    "The least expected cost is no safety margin. Where a failure can hurt somebody, the person "
    "responsible sets a tighter rule.",
    "Costs are those that were stated, in one currency; the answer at half and double the cost "
    "of a failure shows how far it hangs on them.",
)


LIFE_CAUTION = (
    "A joint that was renewed counts as new. After a change of material, speed or "
    "crew the forecast no longer applies."
)


def rests_section(notes: Sequence[str]) -> Section:
    """The section that says what a result rests on."""
    return Section("What this rests on", tuple(as_sentence(n) for n in notes[:20]))
