"""register token: keys for programs, from the console."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

import click

from splicewright.cli.answers import answering, json_option, put_json

register_option = click.option(
    "--register", "where", envvar="SPLICEWRIGHT_REGISTER", default="",
    help="File, or postgresql:// URL, of the register.",
)  # fmt: skip


@click.group("token")
def token_command() -> None:
    """Make, list and revoke API tokens: keys by which programs use the register."""


@token_command.command("make")
@click.option("--account", "login", required=True, help="Name an account signs in with.")
@click.option("--label", required=True, help="What it is for; no two that work have the same.")
@click.option(
    "--scope", type=click.Choice(["read", "record", "plan", "admin"]), multiple=True,
    required=True, help="What it may do; may be repeated.",
)  # fmt: skip
@click.option("--days", type=int, default=90, show_default=True, help="Days until it ends.")
@register_option
@json_option
@answering
def make_command(
    login: str, label: str, scope: tuple[str, ...], days: int, where: str, as_json: bool
) -> None:
    """Make a token that acts as an account, and print it this once."""
    from splicewright.cli.opening import opened_register
    from splicewright.errors import Fault, InputError
    from splicewright.store import Scope

    if not 1 <= days <= 731:
        raise InputError(Fault("--days", f"{days} cannot be; accepted are 1 to 731"))
    until = datetime.now(UTC) + timedelta(days=days)
    with opened_register(where) as register:
        accounts = register.accounts()
        known = {a.login: a.account for a in accounts.accounts()}
        if login not in known:
            accepted = ", ".join(sorted(known)) or "none: nobody has joined yet"
            say = f"{login!r} is no account; accepted is one of {accepted}"
            raise InputError(Fault("--account", say))
        key = accounts.make_token(known[login], label, {Scope(s) for s in scope}, until, None)
    if as_json:
        put_json({"token": key, "label": label, "until": until.isoformat(timespec="seconds")})
        return
    click.echo(f"{label}: works until {until:%Y-%m-%d}. Shown this once:\n{key}")


@token_command.command("list")
@register_option
@json_option
@answering
def list_command(where: str, as_json: bool) -> None:
    """List the tokens: id, label, account, scopes, end, last use."""
    from splicewright.cli.opening import opened_register

    now = datetime.now(UTC)
    with opened_register(where) as register:
        accounts = register.accounts()
        names = {a.account: a.name for a in accounts.accounts()}
        tokens = accounts.tokens()
    lines = [
        {
            "id": str(t.token), "label": t.label, "account": names.get(t.account, ""),
            "scopes": sorted(s.value for s in t.scopes),
            "until": t.until.isoformat(timespec="minutes"),
            "used": t.used.isoformat(timespec="minutes") if t.used else None,
            "works": t.works(now),
        }
        for t in tokens
    ]  # fmt: skip
    if as_json:
        put_json(lines)
        return
    for token, line in zip(tokens, lines, strict=True):
        state = f"until {token.until:%Y-%m-%d}" if line["works"] else "ended"
        used = f"used {token.used:%Y-%m-%d}" if token.used else "never used"
        scopes = ", ".join(sorted(s.value for s in token.scopes))
        click.echo(f"{token.token}  {token.label}  {line['account']}  {scopes}  {state}  {used}")
    click.echo(f"{len(tokens)} tokens.")


@token_command.command("revoke")
@click.argument("token", type=click.UUID)
@register_option
@json_option
@answering
def revoke_command(token: UUID, where: str, as_json: bool) -> None:
    """Revoke TOKEN, by its id in the list; it opens nothing from now on."""
    from splicewright.cli.opening import opened_register

    with opened_register(where) as register:
        register.accounts().end_token(token, None)
    if as_json:
        put_json({"revoked": str(token)})
        return
    click.echo(f"{token}: revoked.")
