"""API: the joints as a table for analysts, whole or what changed since."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from splicewright.actions.register.joint_table import joint_table
from splicewright.files.columns import MEDIA_TYPES, TableFormat
from splicewright.store.authority import Scope
from splicewright.web.api.caller import Caller, needs_scope
from splicewright.web.app.visitor import room_of

router = APIRouter(tags=["register"])
Reader = Annotated[Caller, Depends(needs_scope(Scope.READ))]
MOST = 20_000
"""Facts of one request."""


@router.get(
    "/tables/joints",
    response_class=Response,
    responses={
        200: {
            "description": "Rows; the headers `X-Next`, `X-Head` and `X-Not-Mapped` tell the "
            "number to go on from, that of the last fact, and failures without a mechanism. Ask "
            "again with `since` = `X-Next` until it is `X-Head`.",
            "content": {kind: {} for kind in MEDIA_TYPES.values()},
        }
    },
)
def joints_table(
    request: Request,
    _: Reader,
    since: Annotated[int, Query(ge=0, lt=2**63, description="Only after this number.")] = 0,
    format: Annotated[TableFormat, Query(description="csv or parquet.")] = "csv",
    limit: Annotated[int, Query(ge=1, le=MOST, description="Facts to look through.")] = MOST,
) -> Response:
    """Joints changed after a fact number, as they are now; columns are in docs/joint-table.md."""
    register = room_of(request).register
    with register.at_one_moment():
        table = joint_table(register, format, since, limit)
    headers = {
        "X-Next": str(table.next),
        "X-Head": str(table.head),
        "X-Not-Mapped": str(table.not_mapped),
        "Content-Disposition": f'attachment; filename="joints-{since}-{table.next}.{format}"',
    }
    return Response(table.content, media_type=MEDIA_TYPES[format], headers=headers)
