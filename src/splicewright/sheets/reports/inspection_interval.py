"""How often to look and at what age to renew, as PDF."""

from __future__ import annotations

from collections.abc import Sequence

from splicewright.history.inspection_interval.study import WhenToLook, WhenToRenew
from splicewright.quantities import System
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.pages.drawings import Drawings
from splicewright.sheets.pages.report import (
    COST_CAUTIONS,
    LIFE_CAUTION,
    key_number,
    report,
    rests_section,
)
from splicewright.sheets.pages.section import Section, as_sentence
from splicewright.sheets.words.fleet import money
from splicewright.sheets.words.inspection_interval import look_words
from splicewright.sheets.words.renewal import renew_words


def when_report(
    renew: WhenToRenew | None,
    look: WhenToLook | None,
    costs: Sequence[tuple[str, float]],
    system: System = "metric",
    paper: Paper = A4,
    *,
    name: str = "",
) -> bytes:
    """Return at what age to renew, and how often to look, as PDF.

    Parameters
    ----------
    renew, look : the rules; None where not asked
    costs : name and amount of each cost that was stated
    """
    answer, sections = [], []
    for title, words in (
        ("At what age to renew", renew_words(renew, system)),
        ("Inspection interval", look_words(look, system)),
    ):
        if words:
            answer.append(as_sentence(words[0]))
            points = tuple(as_sentence(w.strip()) for w in words[1:])
            sections.append(Section(title, points))
    rests = [*(renew.notes if renew is not None else ()), *(look.notes if look is not None else ())]
    if rests:
        sections.append(rests_section(tuple(dict.fromkeys(rests))))
    return report(
        "Renewal age and inspection interval",
        name or "joints",
        any(w is not None and w.invented for w in (renew, look)),
        "By what things cost.",
        answer,
        [key_number(n, money(v), "as stated") for n, v in costs],
        sections,
        (*COST_CAUTIONS, LIFE_CAUTION),
        Drawings({}, {}),
        paper,
    )
