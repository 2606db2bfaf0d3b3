"""The JSON Schemas of every kind of file a user writes."""

from __future__ import annotations

from typing import Any


def file_schemas() -> dict[str, dict[str, Any]]:
    """The JSON Schemas of all files, by kind."""
    from splicewright.history.schemas import history_schemas
    from splicewright.joint import range_schema
    from splicewright.joint.belt_end.file import squaring_schema
    from splicewright.joint.inspection.file import inspection_schema
    from splicewright.plant import schemas

    return {
        **schemas(),
        "fasteners": range_schema(),
        "inspection": inspection_schema(),
        "squaring": squaring_schema(),
        **history_schemas(),
    }
