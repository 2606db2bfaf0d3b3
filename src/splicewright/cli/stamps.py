"""register: the end of the chain, stamped by an authority elsewhere."""

from __future__ import annotations

from pathlib import Path

import click

from splicewright.cli.answers import FILE, answering, json_option, put_json
from splicewright.cli.opening import opened_register, register_option


@click.command("stamp")
@click.argument("to", type=FILE)
@click.option("--authority", required=True, help="Address of a time-stamp authority (RFC 3161).")
@register_option
@json_option
@answering
def stamp_command(to: Path, authority: str, where: str, as_json: bool) -> None:
    """Have the end of the chain stamped: TO gets its line, TO.tsr the stamp."""
    from splicewright.actions.register.stamp import stamp_head

    with opened_register(where) as register:
        done = stamp_head(register, to, authority)
    if as_json:
        put_json({"head": done.head, "at": done.at.isoformat(timespec="seconds")})
        return
    click.echo(f"{to} and {to}.tsr: {done.head}, stamped {done.at:%Y-%m-%d %H:%M:%S} UTC.")


@click.command("check-stamp")
@click.argument("to", type=FILE)
@click.option(
    "--trusted", type=FILE, required=True, help="Certificates (PEM) that vouch for the authority."
)
@register_option
@json_option
@answering
def check_stamp_command(to: Path, trusted: Path, where: str, as_json: bool) -> None:
    """Check the stamp of TO, and that its line stands in the register; exit code 1 if not."""
    from splicewright.actions.register.stamp import check_stamp

    with opened_register(where) as register:
        stamp, check = check_stamp(register, to, trusted)
    if as_json:
        put_json(
            {
                "at": stamp.at.isoformat(timespec="seconds"),
                "head": stamp.head,
                "stands": check.stands,
                "since": check.since,
            }
        )
    else:
        verdict = "stands" if check.stands else "does NOT stand"
        click.echo(
            f"Stamped {stamp.at:%Y-%m-%d %H:%M:%S} UTC: fact {check.seq} {verdict} in this "
            f"register with that hash; {check.since} facts since."
        )
    if not check.stands:
        raise click.exceptions.Exit(1)
