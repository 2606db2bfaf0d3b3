"""Numbers stay in one line with their units, dates and names such as K1-2 with themselves.

Browsers break lines at every space, and after a hyphen before a digit. What a page tells is marked
here, in whatever sentence it stands. The marks are of the page alone: what is copied from it or
compared stays as it was.
"""

from __future__ import annotations

import re
from functools import lru_cache

from splicewright.quantities import POLICY

_UNITS = {policy.shown(system).unit for policy in POLICY.values() for system in ("metric", "inch")}
_TIMES = {"s", "min", "h", "d", "day", "days", "week", "weeks", "month", "months", "year", "years"}
_MORE = _TIMES | {"cm", "t", "kB", "MB"}
_UNIT = "|".join(sorted(map(re.escape, (_UNITS - {"", "°"}) | _MORE), reverse=True))
_HYPHENED = r"\w{1,8}(?:-\d{1,4}){1,2}(?:/\d{1,3})?"
_THIN = "[ \u00a0\u2009\u202f]"
_NUMBER = rf"[-+±]?\d{{1,3}}(?:{_THIN}\d{{3}})+|[-+±]?\d[\d.,]*(?:/\d+)?"
_HELD = re.compile(
    # Not within a word, an entity or an address. Its punctuation goes with it: browsers
    # break lines between a box and a comma.
    rf"[(“‘]?(?:[⌀±] )?(?<![\w#&/.:@-])(?:(?:{_NUMBER}|{_HYPHENED})[ \u00a0](?:{_UNIT})(?![\w/])"
    r"(?:(?<=[ \u00a0]h)[ \u00a0]\d{1,2} min\b)?"
    rf"|{_HYPHENED}(?![\w/@-])|[-+]?\d{{1,3}}(?:{_THIN}\d{{3}})+(?!\d))"
    r"(?:[’']s\b)?(?:[),.;:!?”’]+(?=\s|$))?"
)
MARK = "n-b"
"""An element of our own, and short: on the page of a job, sent over radio, it stands 400 times."""
_DIGIT = re.compile(r"\d")
_ELSEWHERE = re.compile(r"(script|style|textarea|option|title|svg)\b")
"""No text of the page: data, boxes that send what stands in them, drawings."""
_PIECES = 10_000
"""Remembered pieces of pages, some 2 MB: most of a page is what stood on the one before."""


def unbroken(page: str) -> str:
    """A page, or a part of one, in which numbers with units, dates and names are marked.

    What is marked already stays as it is.
    """
    before, *pieces = page.split("<")
    parts, until = [_marked(before)], ""
    for piece in pieces:
        if until and not piece.startswith(until):
            parts.append("<" + piece)
        else:
            marked, until = _piece(piece)
            parts.append(marked)
    return "".join(parts)


@lru_cache(_PIECES)
def _piece(piece: str) -> tuple[str, str]:
    """A tag and the text after it, marked; and which tag comes before there is such text again."""
    tag, closed, text = piece.partition(">")
    elsewhere = _ELSEWHERE.match(tag)
    if elsewhere:
        return "<" + piece, "/" + elsewhere[1]
    return f"<{tag}{closed}{text if tag == MARK else _marked(text)}", ""


def _marked(text: str) -> str:
    return _HELD.sub(rf"<{MARK}>\g<0></{MARK}>", text) if _DIGIT.search(text) else text
