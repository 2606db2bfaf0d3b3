"""Files that never change under their address: kept by browsers for a year."""

from __future__ import annotations

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from splicewright.web.app.rendering import BUNDLES, STATIC, static_bytes, static_packed


class _Kept(StaticFiles):
    async def get_response(self, path: str, scope: Scope) -> Response:
        if path in BUNDLES and scope["method"] in {"GET", "HEAD"}:
            packs = b"gzip" in dict(scope["headers"]).get(b"accept-encoding", b"")
            body = static_packed(path) if packs else static_bytes(path)
            how = {"Content-Encoding": "gzip", "Vary": "Accept-Encoding"} if packs else {}
            response = Response(body, media_type="text/javascript", headers=how)
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
