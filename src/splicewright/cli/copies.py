"""register: backups that keep themselves, and a copy that follows."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import answering, count_option, json_option, put_json
from splicewright.cli.opening import opened_register, register_option
from splicewright.errors import Fault, InputError, SplicewrightError

if TYPE_CHECKING:
    from splicewright.actions.register.backup_folder import Backed, Shelf

_BACKUPS = (600.0, 31 * 86400.0, "10 min to 31 d")
"""Between two backups of one command [s]."""
_FOLLOWED = (1.0, 86400.0, "1 s to 24 h")
"""Between two looks at what is followed [s]."""
_AFTER_FAILURE = 600.0
"""Longest until what failed is tried again [s]: one that fails at night is not a day without."""


@click.command("backups")
@click.argument("folder")
@count_option("--days", 0, 400, 7, "Keep the newest of so many days.")
@count_option("--weeks", 0, 200, 5, "Keep the newest of so many weeks.")
@count_option("--months", 0, 600, 12, "Keep the newest of so many months.")
@click.option("--every", default="", help="Go on until stopped, once in such a time: '24 h'.")
@register_option
@json_option
@answering
def backups_command(
    folder: str, days: int, weeks: int, months: int, every: str, where: str, as_json: bool
) -> None:
    """Write a backup into FOLDER, restore it beside, verify that, then remove old ones.

    FOLDER may be s3://BUCKET/PREFIX, a place in an S3-compatible store (docs/register.md).
    """
    from splicewright.actions.register.backup_folder import Retention, back_up_onto

    wait = _between(every, _BACKUPS)
    shelf, keep = _shelf(folder), Retention(days, weeks, months)

    def once() -> None:
        # Opened anew each time: whoever restores in between gets the name back.
        with opened_register(where) as register:
            done = back_up_onto(register, shelf, keep, datetime.now(UTC))
        _tell_backed(folder.rstrip("/"), done, as_json)

    _again(once, wait)


@click.command("follow")
@click.argument("to")
@click.option("--every", default="", help="Go on until stopped, once in such a time: '5 s'.")
@register_option
@json_option
@answering
def follow_command(to: str, every: str, where: str, as_json: bool) -> None:
    """Add to the copy TO, a file or URL, the facts that the register holds beyond it."""
    from splicewright.actions.register.follow import follow

    wait = _between(every, _FOLLOWED)

    def once() -> None:
        with opened_register(where, check=False) as register:
            end, came = follow(register, to)
        if as_json:
            put_json({"facts": end.seq, "came": came, "head": str(end)})
        elif came or not wait:
            click.echo(f"{came} facts came; the copy ends at {end}")

    _again(once, wait)


def _between(every: str, accepted: tuple[float, float, str]) -> float:
    """What was typed for the time between two [s]; 0 for once only."""
    from splicewright.quantities import Kind, read

    if not every:
        return 0.0
    least, most, wording = accepted
    wait = read(every, Kind.TIME, "--every")
    if not least <= wait <= most:
        raise InputError(Fault("--every", f'"{every}" cannot be; accepted is {wording}'))
    return wait


def _again(once: Callable[[], None], wait: float) -> None:
    """Do it, again and again where a wait is given: a failure is told, and soon tried again."""
    while True:
        pause = wait
        try:
            once()
        except SplicewrightError as error:
            if not wait:
                raise
            click.echo(f"error: {datetime.now(UTC):%Y-%m-%d %H:%M} UTC: {error}", err=True)
            pause = min(wait, _AFTER_FAILURE)
        if not wait:
            return
        time.sleep(pause)


def _shelf(folder: str) -> Shelf:
    from splicewright.actions.register.backup_bucket import SCHEME, Bucket
    from splicewright.actions.register.backup_folder import Folder

    return Bucket(folder) if folder.startswith(SCHEME) else Folder(Path(folder))


def _tell_backed(folder: str, done: Backed, as_json: bool) -> None:
    written = f"{folder}/{done.name}"
    if as_json:
        put_json(
            {
                "written": written,
                "facts": done.head.seq,
                "head": str(done.head),
                "removed": [f"{folder}/{name}" for name in done.removed],
            }
        )
        return
    gone = f"; {len(done.removed)} older removed" if done.removed else ""
    click.echo(f"{written}: {done.head.seq} facts, restored beside and verified{gone}.")
    click.echo(f"Head, to write down elsewhere:\n{done.head}")
