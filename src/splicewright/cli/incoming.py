"""register incoming, listen: values of other systems, by the mapping of a site."""

from __future__ import annotations

from pathlib import Path

import click

from splicewright.cli.answers import FILE, answering, json_option, put_json
from splicewright.cli.opening import opened_register, register_option


@click.group("incoming")
def incoming_command() -> None:
    """Say which message of another system is which reading (docs/events.md)."""


@incoming_command.command("map")
@click.argument("file", type=FILE)
@register_option
@json_option
@answering
def map_command(file: Path, where: str, as_json: bool) -> None:
    """Keep the mapping FILE (TOML) of the site it names, in the place of the one before."""
    from splicewright.actions.incoming import keep_mapping
    from splicewright.files.toml import LARGEST
    from splicewright.files.typed_file import read_bytes
    from splicewright.store import CONSOLE

    raw = read_bytes(file, LARGEST, "a TOML file", "a mapping is a few kB")
    with opened_register(where) as register:
        site, number = keep_mapping(register, register.incoming(), CONSOLE, raw, file.name)
    if as_json:
        put_json({"site": str(site), "values": number})
        return
    click.echo(f"{file.name}: {number} values are mapped.")


@incoming_command.command("show")
@click.argument("site")
@register_option
@json_option
@answering
def show_command(site: str, where: str, as_json: bool) -> None:
    """Say what came in at SITE, by name or id: the last of each topic, and what was wrong."""
    from splicewright.cli.people import sites_named
    from splicewright.store import CONSOLE

    with opened_register(where) as register:
        (there,) = sites_named(register, (site,))
        incoming = register.incoming()
        mapping = incoming.mapping(there)
        last, faults = incoming.last(there), incoming.faults(CONSOLE, there, 1000)
    if as_json:
        put_json(
            {
                "site": str(there),
                "mapping": mapping.file if mapping else None,
                "last": [
                    {
                        "topic": m.topic,
                        "typed": m.typed,
                        "received": m.received.isoformat(timespec="seconds"),
                    }
                    for m in last
                ],
                "wrong": [
                    {
                        "topic": f.topic,
                        "sentence": f.sentence,
                        "count": f.count,
                        "last": f.last.isoformat(timespec="seconds"),
                    }
                    for f in faults
                ],
            }
        )
        return
    if mapping is None:
        click.echo("No mapping is kept for this site.")
    for m in last:
        click.echo(f"{m.topic}: {m.typed}, received {m.received:%Y-%m-%d %H:%M} UTC")
    for f in faults:
        click.echo(f"! {f.topic}: {f.sentence} ({f.count} times, last {f.last:%Y-%m-%d %H:%M} UTC)")
    click.echo(f"{len(last)} topics, {len(faults)} things wrong.")


@incoming_command.command("forget")
@click.argument("site")
@register_option
@json_option
@answering
def forget_command(site: str, where: str, as_json: bool) -> None:
    """Clear the list of what was wrong at SITE."""
    from splicewright.cli.people import sites_named
    from splicewright.store import CONSOLE

    with opened_register(where) as register:
        (there,) = sites_named(register, (site,))
        register.incoming().forget_faults(CONSOLE, there)
    if as_json:
        put_json({"site": str(there), "cleared": True})
        return
    click.echo("Cleared.")


@click.command("listen")
@click.option("--broker", required=True, help="mqtts://HOST, or mqtt:// on this machine.")
@click.option("--user", default="", help="Name for the broker.")
@click.option(
    "--name",
    default="splicewright",
    show_default=True,
    help="By which the broker knows this listener; another for each that runs.",
)
@register_option
@answering
def listen_command(broker: str, user: str, name: str, where: str) -> None:
    """Record readings that a broker (MQTT) sends, by the mappings of the sites, until stopped.

    The token of the environment variable SPLICEWRIGHT_TOKEN says as whom; the broker's password
    stands in SPLICEWRIGHT_MQTT_PASSWORD.
    """
    import gc
    import logging
    import os
    import signal

    from splicewright.background.mqtt import Listener, listen

    gc.enable()  # `run` stops it for commands that live for a second
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(name)s %(message)s")
    with opened_register(where, check=False) as register:
        listener = Listener(register, os.environ.get("SPLICEWRIGHT_TOKEN", ""))
        for sign in (signal.SIGINT, signal.SIGTERM):
            signal.signal(sign, lambda *_: listener.stop())
        listen(
            listener,
            broker,
            name=name,
            user=user,
            password=os.environ.get("SPLICEWRIGHT_MQTT_PASSWORD", ""),
            ready=lambda topics: click.echo(f"Listening to {topics} topics (stop with Ctrl-C)"),
        )
