"""Pages from templates: `render(request, "name.html", **context)`.

A template extends `page.html` and has, beside its own context: `visitor` (None when nobody is
signed in), `csrf_field()`, `static("file")`, `navigation`, `room`, `units`, and the filters
`shown` (an SI number in the visitor's units), `moment` and `day`.
"""

from __future__ import annotations

import gzip
import hashlib
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import HTMLResponse, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from splicewright.quantities import Kind, show, show_time
from splicewright.sheets.pages.document import as_sentence
from splicewright.version import __version__
from splicewright.web.app import list_marks
from splicewright.web.app.unbroken import unbroken
from splicewright.web.app.visitor import FIELD, Role, Visitor, room_of

STATIC = Path(__file__).parents[1] / "static"
TEMPLATES = Path(__file__).parents[1] / "templates"


DAILY = 45
"""Entries that stand before it are also in the bar of wide pages; all are in the menu."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the navigation; page modules list theirs in `NAVIGATION`.

    role : who sees it; place : where it stands, small numbers first
    """

    path: str
    word: str
    role: Role = Role.VIEWER
    place: int = 50


def render(
    request: Request, template: str, /, *, status: int = 200, **context: Any
) -> HTMLResponse:
    """A page."""
    text = environment().get_template(template).render(_own(request) | context)
    return HTMLResponse(unbroken(text), status_code=status)


def file_sent(
    data: bytes | str, name: str, media_type: str = "application/pdf", *, open_it: bool = False
) -> Response:
    """A file under its name, to keep, or for the browser to open."""
    how = "inline" if open_it else "attachment"
    headers = {"Content-Disposition": f'{how}; filename="{name}"'}
    return Response(data, media_type=media_type, headers=headers)


def part(request: Request, template: str, /, **context: Any) -> Markup:
    """A part of a page, to be put into it; what stands in it must not be the visitor's own."""
    return Markup(unbroken(environment().get_template(template).render(_own(request) | context)))


def _own(request: Request) -> dict[str, Any]:
    visitor: Visitor | None = getattr(request.state, "visitor", None)
    entries: tuple[Entry, ...] = request.app.state.navigation
    return {
        "visitor": visitor,
        "units": visitor.units if visitor is not None else "metric",
        "navigation": [e for e in entries if visitor is not None and visitor.may(e.role)],
        "room": room_of(request),
        "path": request.url.path,
        "csrf_field": lambda: hidden_field(visitor.csrf if visitor is not None else ""),
    }


def hidden_field(value: str, name: str = FIELD) -> Markup:
    """The hidden field by which a form shows that it is ours."""
    return Markup('<input type="hidden" name="{}" value="{}">').format(name, value)


@cache
def environment() -> Environment:
    """The templates; an unknown name in one is an error, never an empty text."""
    templates = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.globals |= {"static": static, "Role": Role, "version": __version__, "DAILY": DAILY}
    templates.policies["json.dumps_kwargs"] = {"sort_keys": True, "separators": (",", ":")}
    templates.filters |= {
        "shown": _shown,
        "moment": list_marks.moment,
        "day": list_marks.day,
        "lasting": lasting,
        "quoted": quoted,
        "due_when": list_marks.due_when,
        "state": list_marks.state,
        "sentence": as_sentence,
    }
    return templates


BUNDLES = {
    "on-the-phone.js": (
        "vendor/dexie-4.4.7.min.js",
        "phone-known.js",
        "outbox.js",
        "under-finger.js",
        "outbox-bar.js",
    ),
    "verdict-on-phone.js": (
        "joint-contact.js",
        "joint-verdict.js",
        "verdict-here.js",
    ),
    "inspection-page.js": (
        "job-reading.js",
        "photo-smaller.js",
        "round-route.js",
        "under-finger.js",
        "inspection-rows.js",
        "inspection.js",
    ),
    "measure-page.js": (
        "photo-smaller.js",
        "job-reading.js",
        "measure-live.js",
        "measure-photo.js",
    ),
    "round-page.js": ("round-route.js", "round.js"),
    "job-page.js": (
        "splicewright.js",
        "photo-smaller.js",
        "job-reading.js",
        "job-state.js",
        "job-step.js",
        "job-asking.js",
        "job-phone.js",
        "job.js",
    ),
}
"""Scripts sent as one: a slow phone with a weak signal pays for every request."""


_COMMENT = re.compile(rb"/\*.*?\*/\n?|(?<=\n) +", re.DOTALL)
"""Of a stylesheet: what is written for who reads the file, and indents."""


@cache
def static_bytes(name: str) -> bytes:
    """A static file, or the scripts of a bundle, one after the other and as they are sent."""
    parts = BUNDLES.get(name)
    if parts is None:
        read = (STATIC / name).read_bytes()
        return _COMMENT.sub(b"", read) if name.endswith(".css") else read
    return b"\n".join(_sent(part) for part in parts)


_REMARK = re.compile(rb"(?<=[;{},()\[>]) // .*")
"""A comment behind what it speaks of."""


def _sent(script: str) -> bytes:
    """A script without its indents and comments: a fifth of its bytes.

    No text of ours goes over lines or holds what looks like a comment, so nothing else is touched;
    tests hold that.
    """
    read = (STATIC / script).read_bytes()
    if script.startswith("vendor/"):
        return read
    lines = (_REMARK.sub(b"", line).strip() for line in read.split(b"\n"))
    return b"\n".join(line for line in lines if line and not line.startswith(b"//"))


@cache
def is_static(name: str) -> bool:
    """Whether there is a static file or a bundle of that name."""
    return name in BUNDLES or name in _files()


@cache
def _files() -> frozenset[str]:
    return frozenset(path.relative_to(STATIC).as_posix() for path in STATIC.rglob("*.*"))


@cache
def static_packed(name: str, how: str) -> bytes:
    """The same, packed as `br` or `gzip` once and for all, and as small as it can."""
    if how == "br":
        import brotli

        packed: bytes = brotli.compress(static_bytes(name), quality=11)
        return packed
    return gzip.compress(static_bytes(name), 9, mtime=0)


@cache
def static(name: str) -> str:
    """Address of a static file; it changes with the file, so that browsers may keep it."""
    digest = hashlib.sha256(static_bytes(name)).hexdigest()[:12]
    return f"/static/{name}?v={digest}"


@pass_context
def _shown(context: Context, value: float | None, kind: str) -> str:
    """An SI number in the visitor's units; a dash when there is none."""
    if value is None:
        return "–"
    if value == 0 and kind == Kind.DISTANCE:
        return "0 ft" if context["units"] == "inch" else "0 m"  # not millimetres, as below 1 m
    return show(value, Kind(kind), context["units"])


def lasting(seconds: float) -> str:
    """How long something lasted, in words; whole years and months when it is long."""
    months = round(seconds / (86400 * 30.44))
    if months < 2:
        return show_time(seconds)
    years, rest = divmod(months, 12)
    parts = [f"{years} {'year' if years == 1 else 'years'}"] if years else []
    parts += [f"{rest} {'month' if rest == 1 else 'months'}"] if rest else []
    return " ".join(parts)


def quoted(text: object) -> str:
    """A text as a part of an address."""
    return quote(str(text), safe="")
