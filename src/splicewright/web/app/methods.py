"""What an address can be asked by: the methods of all routes that it matches (RFC 9110, 10.2.1)."""

from __future__ import annotations

from fastapi import Request
from fastapi.routing import APIRoute


def with_allow(request: Request, headers: dict[str, str]) -> dict[str, str]:
    """Headers of a 405 with every method of this address; the router tells those of one route."""
    path: str = request.scope["path"]
    path = path.removeprefix(request.scope.get("root_path", ""))
    routes: tuple[APIRoute, ...] = request.app.state.every_route
    there = {m for route in routes if route.path_regex.match(path) for m in route.methods or ()}
    if "GET" in there:
        there.add("HEAD")
    return headers | ({"Allow": ", ".join(sorted(there))} if there else {})
