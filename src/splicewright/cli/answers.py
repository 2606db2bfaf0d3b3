"""What commands share: options, errors as one sentence with exit code 2, answers as JSON."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from functools import wraps
from pathlib import Path
from typing import Any, ParamSpec

import click

from splicewright.errors import InputError, SplicewrightError

P = ParamSpec("P")

FILE = click.Path(path_type=Path)

json_option = click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
units_option = click.option(
    "--units",
    type=click.Choice(["metric", "inch"]),
    default="metric",
    show_default=True,
    help="How numbers are shown; any unit is read.",
)
paper_option = click.option(
    "--paper",
    type=click.Choice(["A4", "Letter"]),
    default="A4",
    show_default=True,
    help="Paper of what is printed.",
)
confidence_option = click.option(
    "--confidence",
    type=click.FloatRange(0.5, 0.999),
    default=0.9,
    show_default=True,
    help="Share of the ranges that hold the truth.",
)
fasteners_option = click.option(
    "--fasteners",
    type=FILE,
    multiple=True,
    help="Fastener range file or folder; may be repeated. Without it: the folder 'fasteners' "
    "beside the conveyor file or its folder.",
)


def answering(command: Callable[P, None]) -> Callable[P, None]:
    """Turn errors into one sentence each on standard error, JSON if asked, exit code 2."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            command(*args, **kwargs)
        except SplicewrightError as error:
            if kwargs.get("as_json"):
                put_json({"error": _told(error)})
            else:
                for line in str(error).splitlines():
                    click.echo(f"error: {line}", err=True)
            sys.exit(2)

    return run


def _told(error: SplicewrightError) -> list[dict[str, Any]]:
    if isinstance(error, InputError):
        return [
            {"file": f.file, "line": f.line, "key": f.key, "sentence": f.sentence}
            for f in error.faults
        ]
    return [{"file": "", "line": None, "key": "", "sentence": str(error)}]


def put_json(answer: Any) -> None:
    """Print an answer for machines."""
    click.echo(json.dumps(answer, indent=1, ensure_ascii=False, allow_nan=False))


def say_invented(invented: bool) -> None:
    """Say that what was read is no real data."""
    if invented:
        click.echo("! Invented data: not for real work.")


def plain(answer: Any) -> Any:
    """A result as plain data: SI numbers, texts, lists and tables; null for what is not finite."""
    from splicewright.quantities import Sentence

    if isinstance(answer, Enum):
        return plain(answer.value)
    if isinstance(answer, Sentence):
        return answer.say()
    if is_dataclass(answer) and not isinstance(answer, type):
        return {f.name: plain(getattr(answer, f.name)) for f in fields(answer)}
    if isinstance(answer, Mapping):
        return {str(key): plain(value) for key, value in answer.items()}
    if isinstance(answer, list | tuple):
        return [plain(value) for value in answer]
    if isinstance(answer, date):
        return answer.isoformat()
    if isinstance(answer, float):
        return float(answer) if math.isfinite(answer) else None
    return answer


def say_written(out: Path | None, report: str, number: int) -> None:
    """Say where the report lies, where a folder was asked for."""
    if out is not None:
        click.echo(f"Report: {out / report}  ({number} files in {out})")
