"""Values of a job that are outside their limits: on paper, with who answers for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from splicewright.job import AgainstLimits, Reading
from splicewright.quantities import System, show


@dataclass(frozen=True, slots=True)
class LeftOutside:
    """A value that was measured outside its limits.

    Attributes
    ----------
    job : name of the job in which it was measured
    step, reading : where, in words, and its limits
    what, box : which value; box 0 is the difference of two boxes
    value, verdict : as measured [SI], and on which side of its limits
    why, to_do : it stays, and what is done about it; empty while nobody has signed
    until : by which day; None without one
    signed_by, signed : who answers for it, and since when; "" and None while nobody does
    """

    job: str
    step: str
    reading: Reading
    what: str
    box: int
    value: float
    verdict: AgainstLimits
    why: str = ""
    to_do: str = ""
    until: date | None = None
    signed_by: str = ""
    signed: date | None = None


def left_outside(left: Sequence[LeftOutside], system: System) -> list[dict[str, Any]]:
    """Words of the page, one entry for each value, the unsigned ones first, then by their day."""
    order = sorted(left, key=lambda one: (bool(one.signed_by), one.until or date.max))
    return [
        {
            "what": f"{one.what}{_box(one.box)}",
            "step": f"{one.job}, {one.step}",
            "measured": show(one.value, one.reading.kind, system),
            "verdict": one.verdict.value,
            "limit": one.reading.limit.say(system),
            "why": one.why,
            "to_do": one.to_do,
            "until": one.until.isoformat() if one.until else "",
            "signed_by": one.signed_by,
            "signed": one.signed.isoformat() if one.signed else "",
        }
        for one in order
    ]


def _box(box: int) -> str:
    return f", box {box}" if box > 1 else ", difference" if box == 0 else ""
