"""The drawings of an answer on a page: where they are, and each of them as SVG."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import HTTPException
from fastapi.responses import Response

from splicewright.sheets.canvas.svg import svg
from splicewright.sheets.pages.document import Diagram, Document


@dataclass(frozen=True, slots=True)
class Picture:
    """Addresses of a drawing: for a desk, and for the width of a phone."""

    wide: str
    narrow: str


def pictures_at(document: Document, folder: str, query: str = "") -> Mapping[str, Picture]:
    """Its drawings under their names in a folder of addresses, for `drawing` to answer.

    Parameters
    ----------
    query : what was asked, with its question mark; empty for nothing
    """
    phone = f"{query}&phone=1" if query else "?phone=1"
    return {
        d.name: Picture(f"{folder}/{d.name}.svg{query}", f"{folder}/{d.name}.svg{phone}")
        for d in document.diagrams
        if d.narrow is not None
    }


def pictures_within(document: Document) -> Mapping[str, Picture]:
    """Its drawings within the page, where what was asked has no address."""
    return {
        d.name: Picture(_within(_drawn(d, phone=False)), _within(_drawn(d, phone=True)))
        for d in document.diagrams
        if d.narrow is not None
    }


def drawing(document: Document, name: str, *, phone: bool) -> Response:
    """One of them as SVG; phone : drawn for its width.

    Raises
    ------
    HTTPException
        It has no such drawing.
    """
    for diagram in document.diagrams:
        if diagram.name == name:
            return Response(_drawn(diagram, phone=phone), media_type="image/svg+xml")
    raise HTTPException(404)


def _drawn(diagram: Diagram, *, phone: bool) -> str:
    draw = diagram.narrow if phone and diagram.narrow is not None else diagram.draw
    return svg(draw(), margin=4.0)


def _within(drawn: str) -> str:
    return f"data:image/svg+xml;base64,{base64.b64encode(drawn.encode()).decode()}"
