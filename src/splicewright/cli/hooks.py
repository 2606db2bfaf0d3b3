"""register hooks: other systems told of facts; make, list, replay, see what was not taken."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import UUID

import click

from splicewright.cli.answers import answering, json_option, put_json
from splicewright.cli.opening import opened_register, register_option

if TYPE_CHECKING:
    from splicewright.store.hooks import Hook

hook_argument = click.argument("hook", type=click.UUID)


@click.group("hooks")
def hooks_command() -> None:
    """Tell other systems of facts as they are recorded (docs/events.md)."""


@hooks_command.command("make")
@click.option("--label", required=True, help="What it is for; no two that work have the same.")
@click.option("--url", required=True, help="Address that facts are sent to, https.")
@click.option("--kind", "kinds", multiple=True, help="Only facts of this kind; may be repeated.")
@click.option(
    "--site", "named", multiple=True, help="Only of this site, by name or id; may be repeated."
)
@click.option(
    "--since",
    type=click.IntRange(0),
    help="Begin after this fact number; 0 tells all. Without: from now on.",
)
@click.option("--own-network", is_flag=True, help="Allow addresses of the own network, and http.")
@register_option
@json_option
@answering
def make_command(
    label: str,
    url: str,
    kinds: tuple[str, ...],
    named: tuple[str, ...],
    since: int | None,
    own_network: bool,
    where: str,
    as_json: bool,
) -> None:
    """Make a hook, and print its secret this once."""
    from splicewright.background.hooks import shown_secret
    from splicewright.cli.people import sites_named
    from splicewright.store import CONSOLE

    with opened_register(where) as register:
        begin = register.head().seq if since is None else since
        sites = sites_named(register, named) if named else None
        hook, secret = register.hooks().make(
            CONSOLE, label, url, since=begin, kinds=kinds, sites=sites, private=own_network
        )
    if as_json:
        put_json(_hook_row(hook) | {"secret": shown_secret(secret)})
        return
    click.echo(f"{hook.hook}  {label}: tells facts after number {begin}. Its secret, shown once:")
    click.echo(shown_secret(secret))


@hooks_command.command("list")
@register_option
@json_option
@answering
def list_command(where: str, as_json: bool) -> None:
    """List the hooks: where each stands, why it waits, how many facts were not taken."""
    from splicewright.store import CONSOLE

    with opened_register(where) as register:
        hooks, head = register.hooks().all(CONSOLE), register.head().seq
    if as_json:
        put_json([_hook_row(hook) for hook in hooks])
        return
    for hook in hooks:
        state = "ended" if hook.ended else hook.failure or "no failure"
        letters = f", {hook.letters} dead letters" if hook.letters else ""
        click.echo(
            f"{hook.hook}  {hook.label}  {hook.url}  at fact {hook.seq} of {head}: {state}{letters}"
        )
    click.echo(f"{len(hooks)} hooks.")


@hooks_command.command("letters")
@hook_argument
@register_option
@json_option
@answering
def letters_command(hook: UUID, where: str, as_json: bool) -> None:
    """List what the address of HOOK did not take: fact number, when, tries, why."""
    from splicewright.store import CONSOLE

    with opened_register(where) as register:
        letters = register.hooks().letters(CONSOLE, hook, limit=1000)
    if as_json:
        put_json(
            [
                {
                    "fact": one.seq,
                    "at": one.at.isoformat(timespec="seconds"),
                    "tries": one.tries,
                    "failure": one.failure,
                    "again": one.again,
                }
                for one in letters
            ]
        )
        return
    for one in letters:
        again = ", to be sent again" if one.again else ""
        click.echo(
            f"fact {one.seq}, {one.at:%Y-%m-%d %H:%M} UTC, {one.tries} tries: {one.failure}{again}"
        )
    click.echo(f"{len(letters)} dead letters.")


@hooks_command.command("again")
@hook_argument
@register_option
@json_option
@answering
def again_command(hook: UUID, where: str, as_json: bool) -> None:
    """Send the dead letters of HOOK again."""
    from splicewright.store import CONSOLE

    with opened_register(where) as register:
        number = register.hooks().send_again(CONSOLE, hook)
    _say(as_json, hook, f"{number} dead letters are sent again.", letters=number)


@hooks_command.command("replay")
@hook_argument
@click.option("--since", type=click.IntRange(0), required=True, help="After this fact number.")
@register_option
@json_option
@answering
def replay_command(hook: UUID, since: int, where: str, as_json: bool) -> None:
    """Tell HOOK again of all facts after a number."""
    from splicewright.store import CONSOLE

    with opened_register(where) as register:
        register.hooks().replay(CONSOLE, hook, since)
    _say(as_json, hook, f"tells again from fact {since + 1} on.", since=since)


@hooks_command.command("new-secret")
@hook_argument
@register_option
@json_option
@answering
def new_secret_command(hook: UUID, where: str, as_json: bool) -> None:
    """Make another secret for HOOK, printed this once; the former signs too for a day."""
    from splicewright.background.hooks import shown_secret
    from splicewright.store import CONSOLE

    with opened_register(where) as register:
        secret = shown_secret(register.hooks().new_secret(CONSOLE, hook))
    sentence = f"the former secret signs too for one day. The new one, shown once:\n{secret}"
    _say(as_json, hook, sentence, secret=secret)


@hooks_command.command("end")
@hook_argument
@register_option
@json_option
@answering
def end_command(hook: UUID, where: str, as_json: bool) -> None:
    """End HOOK: nothing more is sent."""
    from splicewright.store import CONSOLE

    with opened_register(where) as register:
        register.hooks().end(CONSOLE, hook)
    _say(as_json, hook, "ended.", ended=True)


def _say(as_json: bool, hook: UUID, sentence: str, **fields: object) -> None:
    if as_json:
        put_json({"hook": str(hook)} | fields)
    else:
        click.echo(f"{hook}: {sentence}")


def _hook_row(hook: Hook) -> dict[str, object]:
    return {
        "hook": str(hook.hook),
        "label": hook.label,
        "url": hook.url,
        "kinds": list(hook.kinds),
        "sites": None if hook.sites is None else sorted(str(s) for s in hook.sites),
        "own_network": hook.private,
        "by": hook.by,
        "ended": hook.ended is not None,
        "seq": hook.seq,
        "tries": hook.tries,
        "failure": hook.failure,
        "letters": hook.letters,
    }
