"""JSON Schemas of the files this room reads."""

from __future__ import annotations

from typing import Any

from splicewright.history.decision.file import DecisionFile
from splicewright.history.shutdown.file import ShutdownFile


def history_schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema of each TOML file by its kind."""
    return {
        "shutdown": ShutdownFile.model_json_schema(),
        "decision": DecisionFile.model_json_schema(),
    }
