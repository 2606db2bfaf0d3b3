"""Pages of the numbers of an answer: all of them, and one down to what it rests on.

For answers whose page would grow too long with every number on it.
"""

from __future__ import annotations

from typing import Any

from fastapi import HTTPException, Request
from fastapi.responses import Response

from splicewright.quantities import Record, System
from splicewright.web.app.rendering import render
from splicewright.web.plan.words import LineShown, why, worksheet


def numbers_page(
    request: Request, record: Record, units: System, *, title: str, at: str, key: str = ""
) -> Response:
    """Every number of an answer, or one with all below it.

    Parameters
    ----------
    at : path of that page; what was asked stands in the address again
    key : of the one number; empty for all

    Raises
    ------
    HTTPException
        No number of that key.
    """
    query = f"?{request.url.query}" if request.url.query else ""
    around: dict[str, Any] = {
        "back": f"{at}{query}",
        "back_word": title,
        "why": f"{at}/why",
        "query": query,
    }
    if not key:
        groups: dict[str, list[tuple[str, LineShown]]] = {}
        for line in worksheet(record, units):
            name, of_one, label = line.label.partition(": ")
            group, label = (name, label) if of_one else ("All together", name)
            groups.setdefault(group, []).append((label, line))
        heading = f"{title}: how the numbers came about"
        return render(
            request, "answer-numbers.html", title=heading, groups=list(groups.items()), **around
        )
    if key not in set(record.keys()):
        raise HTTPException(404)
    return render(request, "plan-why.html", lines=why(record, key, units), **around)
