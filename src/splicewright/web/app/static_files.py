"""Files that never change under their address: kept by browsers for a year."""

from __future__ import annotations

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from splicewright.web.app.packing import takes
from splicewright.web.app.rendering import STATIC, is_static, static_bytes, static_packed

_PACKED = {"js": "text/javascript", "css": "text/css"}
"""What is packed once and for all, and as small as it can."""


class _Kept(StaticFiles):
    async def get_response(self, path: str, scope: Scope) -> Response:
        kind = _PACKED.get(path.rpartition(".")[2])
        if kind and scope["method"] in {"GET", "HEAD"} and is_static(path):
            how = takes(scope)
            headers = {"Content-Encoding": how, "Vary": "Accept-Encoding"} if how else {}
            body = static_packed(path, how) if how else static_bytes(path)
            response = Response(body, media_type=kind, headers=headers)
        else:
            response = await super().get_response(path, scope)
        versioned = b"v=" in scope.get("query_string", b"")
        lasting = "public, max-age=31536000, immutable" if versioned else "public, max-age=300"
        if response.status_code in {200, 304}:
            response.headers["Cache-Control"] = lasting
        return response


def serve() -> StaticFiles:
    """The folder of static files as an app."""
    return _Kept(directory=STATIC)
