"""register token, register people: keys for programs, and who is let into which sites."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID

import click

from splicewright.cli.answers import answering, json_option, put_json

if TYPE_CHECKING:
    from splicewright.store import Account, Accounts, Register

register_option = click.option(
    "--register",
    "where",
    envvar="SPLICEWRIGHT_REGISTER",
    default="",
    help="File, or postgresql:// URL, of the register.",
)


@click.group("token")
def token_command() -> None:
    """Make, list and revoke API tokens: keys by which programs use the register."""


@token_command.command("make")
@click.option("--account", "login", required=True, help="Name an account signs in with.")
@click.option("--label", required=True, help="What it is for; no two that work have the same.")
@click.option(
    "--scope",
    type=click.Choice(["read", "record", "plan", "admin"]),
    multiple=True,
    required=True,
    help="What it may do; may be repeated.",
)
@click.option("--days", type=int, default=90, show_default=True, help="Days until it ends.")
@click.option(
    "--site",
    "named",
    multiple=True,
    help="Only at this site, by name or id; may be repeated. Without: all its account is let into.",
)
@register_option
@json_option
@answering
def make_command(
    login: str,
    label: str,
    scope: tuple[str, ...],
    days: int,
    named: tuple[str, ...],
    where: str,
    as_json: bool,
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
        sites = sites_named(register, named) if named else None
        account = _account_of(accounts, login, "--account").account
        wanted = {Scope(s) for s in scope}
        key = accounts.make_token(account, label, wanted, until, None, sites=sites)
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
            "id": str(t.token),
            "label": t.label,
            "account": names.get(t.account, ""),
            "scopes": sorted(s.value for s in t.scopes),
            "until": t.until.isoformat(timespec="minutes"),
            "used": t.used.isoformat(timespec="minutes") if t.used else None,
            "works": t.works(now),
        }
        for t in tokens
    ]
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


@click.group("people")
def people_command() -> None:
    """List who can sign in, and let people into sites."""


@people_command.command("list")
@register_option
@json_option
@answering
def people_list_command(where: str, as_json: bool) -> None:
    """List the accounts: name to sign in with, name, role, sites."""
    from splicewright.cli.opening import opened_register
    from splicewright.store.sites import site_names

    with opened_register(where) as register:
        accounts = register.accounts().accounts()
        names = {s.site: s.name for s in register.sites()}
    if as_json:
        put_json(
            [
                {
                    "login": a.login,
                    "name": a.name,
                    "role": a.role.value,
                    "closed": a.closed is not None,
                    "all_sites": a.sites is None,
                    "sites": sorted(str(s) for s in a.sites or ()),
                }
                for a in accounts
            ]
        )
        return
    for a in accounts:
        state = ", closed" if a.closed is not None else ""
        click.echo(f"{a.login}  {a.name}  {a.role.value}{state}  {site_names(a.sites, names)}")
    click.echo(f"{len(accounts)} accounts.")


@people_command.command("let-into")
@click.argument("login")
@click.option("--site", "named", multiple=True, help="A site by name or id; may be repeated.")
@click.option("--all-sites", is_flag=True, help="All sites, those added later too.")
@register_option
@json_option
@answering
def let_into_command(
    login: str, named: tuple[str, ...], all_sites: bool, where: str, as_json: bool
) -> None:
    """Let LOGIN into these sites and no others; whoever loses one is signed out everywhere."""
    from splicewright.cli.opening import opened_register
    from splicewright.errors import Fault, InputError
    from splicewright.store.sites import site_names

    if all_sites == bool(named):
        say = "accepted is one of both: --site once or more, or --all-sites"
        raise InputError(Fault("--site", say))
    with opened_register(where) as register:
        accounts = register.accounts()
        sites = None if all_sites else sites_named(register, named)
        there = _account_of(accounts, login, "LOGIN")
        accounts.let_into(there.account, sites, None)
        words = site_names(sites, {s.site: s.name for s in register.sites()})
    if as_json:
        put_json(
            {
                "login": login,
                "all_sites": sites is None,
                "sites": sorted(str(s) for s in sites or ()),
            }
        )
        return
    click.echo(f"{login}: let into {words}.")


@people_command.command("clear-factor")
@click.argument("login")
@register_option
@json_option
@answering
def clear_factor_command(login: str, where: str, as_json: bool) -> None:
    """Take the second factor of LOGIN away, as when the phone is lost; their sessions end."""
    from splicewright.cli.opening import opened_register

    with opened_register(where) as register:
        accounts = register.accounts()
        there = _account_of(accounts, login, "LOGIN").account
        had = accounts.has_factor(there)
        accounts.clear_factor(there, None)
    if as_json:
        put_json({"login": login, "cleared": had})
        return
    click.echo(f"{login}: second factor cleared." if had else f"{login}: had no second factor.")


def _account_of(accounts: Accounts, login: str, key: str) -> Account:
    from splicewright.errors import Fault, InputError

    known = {a.login: a for a in accounts.accounts()}
    if login not in known:
        accepted = ", ".join(sorted(known)) or "none: nobody has joined yet"
        raise InputError(Fault(key, f"{login!r} is no account; accepted is one of {accepted}"))
    return known[login]


def sites_named(register: Register, named: tuple[str, ...]) -> frozenset[UUID]:
    """The sites of these names or ids; a name that two sites bear needs the id."""
    from splicewright.errors import Fault, InputError

    sites = set()
    for name in named:
        there = [s.site for s in register.sites() if name in {s.name, str(s.site)}]
        if len(there) != 1:
            accepted = ", ".join(f"{s.name!r} ({s.site})" for s in register.sites()) or "none"
            say = "is the name of several sites" if there else "is no site"
            raise InputError(Fault("--site", f"{name!r} {say}; accepted is one of {accepted}"))
        sites.add(there[0])
    return frozenset(sites)


@people_command.command("new-key")
@register_option
@json_option
@answering
def new_key_command(where: str, as_json: bool) -> None:
    """Seal all secrets, of apps for codes and of hooks, with a new key."""
    from splicewright.cli.opening import opened_register

    with opened_register(where) as register:
        accounts = register.accounts()
        number, place = accounts.new_key(), str(accounts.key_place)
    if as_json:
        put_json({"sealed": number, "key": place})
        return
    click.echo(
        f"{number} secrets are sealed with a new key. Keep a copy of {place}, apart from the "
        "backups: none holds it, and without it no code opens and no hook sends."
    )
