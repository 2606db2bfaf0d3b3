"""The sites of accounts in SQL, within a transaction of `SqlAccounts`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Select, delete, insert, or_, select

from splicewright.store.accounts.schema import ACCOUNT_SITES, ACCOUNTS
from splicewright.store.database.schema import TABLES
from splicewright.store.present.present import SiteNow
from splicewright.store.sites import Sites, site_names


def read(connection: Connection, account: UUID, *, all_sites: bool) -> Sites:
    """The sites of an account."""
    if all_sites:
        return None
    query = select(ACCOUNT_SITES.c.site).where(ACCOUNT_SITES.c.account == account)
    return frozenset(connection.execute(query).scalars())


def read_all(connection: Connection) -> dict[UUID, frozenset[UUID]]:
    """The sites of every account that is let into some by name."""
    sites: dict[UUID, set[UUID]] = {}
    for account, site in connection.execute(select(ACCOUNT_SITES.c.account, ACCOUNT_SITES.c.site)):
        sites.setdefault(account, set()).add(site)
    return {account: frozenset(some) for account, some in sites.items()}


def write(connection: Connection, account: UUID, sites: Sites) -> None:
    """Let an account into these sites and no others."""
    connection.execute(delete(ACCOUNT_SITES).where(ACCOUNT_SITES.c.account == account))
    rows = [{"account": account, "site": site} for site in sorted(sites or ())]
    if rows:
        connection.execute(insert(ACCOUNT_SITES), rows)


def sharing(sites: frozenset[UUID]) -> Select[Any]:
    """Ids of accounts that are let into one of these sites, or into all."""
    theirs = select(ACCOUNT_SITES.c.account).where(ACCOUNT_SITES.c.site.in_(list(sites)))
    mine = or_(ACCOUNTS.c.account.in_(theirs), ACCOUNTS.c.all_sites.is_(True))
    return select(ACCOUNTS.c.account).where(mine)


def change_of_sites(connection: Connection, before: Sites, after: Sites) -> str:
    """For the log: which sites before, which after."""
    return f"from {named(connection, before)} to {named(connection, after)}"


def named(connection: Connection, sites: Sites) -> str:
    """Sites by their names."""
    table = TABLES[SiteNow]
    names = {row.site: row.name for row in connection.execute(select(table.c.site, table.c.name))}
    return site_names(sites, names)
