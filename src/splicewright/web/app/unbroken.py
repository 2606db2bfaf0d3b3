"""A number stays on the line of its unit and of its thousands, and a date on one line, with the
brackets and commas at it: asked of every page, here.

Only words between tags are touched: what a form sends, scripts and drawings stay as they are.
"""

from __future__ import annotations

import re

from splicewright.quantities import POLICY

_GAP = "\N{NO-BREAK SPACE}"
_UNITS = sorted(
    {unit for p in POLICY.values() for unit in (p.metric.unit, p.inch.unit) if unit}
    | {"min", "h", "d", "weeks", "ft", "×"},
    key=len,
    reverse=True,
)
_FOUND = re.compile(
    r"<(script|style|title|textarea|option|time|code|svg)\b.*?</\1>|<[^>]*>"
    rf"|(?<=\d) (?P<unit>{'|'.join(map(re.escape, _UNITS))})(?![\w/])(?P<of> (?=\w))?"
    r"|(?P<day>\(?\b\d{4}-\d\d-\d\d\b[).,;:]*)"
    r"|(?<=\d)(?P<thousands> )(?=\d{3}(?!\w))",
    re.DOTALL,
)


def unbroken(page: str) -> str:
    """The page with gaps that no line breaks at."""
    return _FOUND.sub(_kept, page)


def _kept(found: re.Match[str]) -> str:
    if found["unit"]:
        gap = _GAP if found["unit"] == "×" else found["of"]
        return f"{_GAP}{found['unit'].replace(' ', _GAP)}{(found['of'] and gap) or ''}"
    if found["thousands"]:
        return _GAP
    if found["day"]:
        return f'<span class="whole">{found["day"]}</span>'
    return found[0]
