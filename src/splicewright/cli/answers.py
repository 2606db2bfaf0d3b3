"""What commands share: options, errors as one sentence with exit code 2, answers as JSON."""

from __future__ import annotations

import errno
import json
import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import click

from splicewright.errors import Fault, InputError, SplicewrightError

P = ParamSpec("P")
C = TypeVar("C", bound=Callable[..., Any])

FILE = click.Path(path_type=Path)
SERVER = frozenset(
    {
        "alembic",
        "argon2",
        "brotli",
        "cryptography",
        "fastapi",
        "httptools",
        "huey",
        "icalendar",
        "jinja2",
        "python_multipart",
        "sqlalchemy",
        "uvicorn",
        "uvloop",
        "webauthn",
    }
)
"""What the server extra installs: register, pages, API and background tasks need it."""
EXTRAS = {"paho": "mqtt", "obstore": "s3", "rfc3161_client": "timestamp"}
"""Which extra installs a module that one command needs."""


def count_option(name: str, least: int, most: int, usual: int, help_text: str) -> Callable[[C], C]:
    """An option for a whole number that is usually the same."""
    accepted = click.IntRange(least, most)
    return click.option(name, type=accepted, default=usual, show_default=True, help=help_text)


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
            _with_names_that_can_be(command, *args, **kwargs)
        except (SplicewrightError, ModuleNotFoundError) as error:
            if isinstance(error, ModuleNotFoundError):
                error = _of_an_extra(error)
            if kwargs.get("as_json"):
                put_json({"error": _error_rows(error)})
            else:
                for line in str(error).splitlines():
                    click.echo(f"error: {line}", err=True)
            sys.exit(2)

    return run


def _of_an_extra(error: ModuleNotFoundError) -> SplicewrightError:
    """What to install, where a module of an extra is missing; any other is a fault of ours."""
    module = (error.name or "").partition(".")[0]
    if module in SERVER:
        return SplicewrightError(
            f"this needs the server extra, which is not installed ({module} is missing): "
            "pip install 'splicewright[server]'"
        )
    if module in EXTRAS:
        extra = EXTRAS[module]
        return SplicewrightError(
            f"this needs the {extra} extra, which is not installed ({module} is missing): "
            f"pip install 'splicewright[{extra}]'"
        )
    raise error


def _with_names_that_can_be(command: Callable[P, None], *args: P.args, **kwargs: P.kwargs) -> None:
    """Every command takes names of files, and asks of each whether it is there."""
    try:
        command(*args, **kwargs)
    except OSError as error:
        if error.errno != errno.ENAMETOOLONG:
            raise
        say = "is too long for the name of a file; accepted is a name that this system can hold"
        raise InputError(Fault(f"{str(error.filename)[:40]}...", say)) from None


def _error_rows(error: SplicewrightError) -> list[dict[str, Any]]:
    if isinstance(error, InputError):
        return [
            {"file": f.file, "line": f.line, "key": f.key, "sentence": f.sentence}
            for f in error.faults
        ]
    return [{"file": "", "line": None, "key": "", "sentence": str(error)}]


def put_json(answer: Any) -> None:
    """Print an answer for machines."""
    click.echo(json.dumps(answer, indent=1, ensure_ascii=False, allow_nan=False))
