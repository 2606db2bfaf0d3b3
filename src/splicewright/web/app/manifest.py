"""The manifest by which phones install the app, and its icons."""

from __future__ import annotations

import json

from fastapi import APIRouter, Request
from fastapi.responses import Response

from splicewright.web.app.rendering import static

router = APIRouter()


@router.get("/manifest.webmanifest")
def manifest(request: Request) -> Response:
    """What a phone needs to know to install the app."""
    icons = [
        {
            "src": static(f"icon-{size}.png"),
            "sizes": f"{size}x{size}",
            "type": "image/png",
            "purpose": purpose,
        }
        for size in (192, 512)
        for purpose in ("any", "maskable")
    ]
    members = {
        "name": "Splicewright",
        "short_name": "Splicewright",
        "description": "Joints of conveyor belts: what is due, how it is made, what was done.",
        "id": "/",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#ffffff",
        "theme_color": "#10282d",
        "icons": [{"src": static("icon.svg"), "sizes": "any", "type": "image/svg+xml"}, *icons],
        "shortcuts": [{"name": "Due", "url": "/due"}, {"name": "Conveyors", "url": "/"}],
    }
    return Response(
        json.dumps(members),
        media_type="application/manifest+json",
        headers={"Cache-Control": "public, max-age=3600"},
    )
