"""Who is let into which sites: the one place for it.

A site that somebody is not let into is, for them, as if it did not exist. It is asked where the
register is read (`store.sql.within`), where facts are appended (`store.sql.appending`), and where
accounts, links, tokens and background tasks are made or shown. Pages hold no rule of their own.

"All sites" is a grant of its own: it holds sites that are added later, and only whoever has it
gives it or adds a site. Nothing said is no site: unknown is unsafe.
"""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from splicewright.errors import Fault

Sites = frozenset[UUID] | None
"""The sites somebody is let into; None: all sites, those that come later too."""
ALL_SITES: Sites = None
NO_SITES: Sites = frozenset()

ADDS_SITES = "a site is added by somebody who is let into all sites; ask an admin"
TAKEN = "cannot be used as an id here; make a new one"
NOT_YOURS = (
    "names sites that you are not let into yourself; accepted are sites of your own, and all sites "
    "only from somebody who is let into all of them"
)


def covers(mine: Sites, theirs: Sites) -> bool:
    """Whether whoever is let into `mine` may let somebody into `theirs`, and take it back."""
    if mine is None:
        return True
    return theirs is not None and theirs <= mine


def shares(mine: Sites, theirs: Sites) -> bool:
    """Whether two people work at one site, and so may know of each other."""
    if mine is None:
        return True
    return bool(mine) if theirs is None else bool(mine & theirs)


def both(one: Sites, other: Sites) -> Sites:
    """The sites that are in both."""
    if one is None or other is None:
        return other if one is None else one
    return one & other


def may_let_into(mine: Sites, theirs: Sites) -> Fault | None:
    """Why somebody may not let others into these sites; None when they may."""
    return None if covers(mine, theirs) else Fault("sites", NOT_YOURS)


def written(sites: Sites) -> str | None:
    """As it is kept in a column; None for all."""
    return None if sites is None else " ".join(sorted(str(site) for site in sites))


def from_written(text: str | None) -> Sites:
    """Read what `written` wrote."""
    return None if text is None else frozenset(UUID(word) for word in text.split())


def site_names(sites: Sites, names: dict[UUID, str]) -> str:
    """For people: the names, or that it is all of them; sites not in `names` are only counted."""
    if sites is None:
        return "all sites"
    known = sorted(names[site] for site in sites if site in names)
    more = len(sites) - len(known)
    others = [f"{more} other {'site' if more == 1 else 'sites'}"] if more else []
    return ", ".join([*known, *others]) or "no site"


def chosen(ids: Iterable[UUID], *, all_of_them: bool) -> Sites:
    """What a form or command named."""
    return None if all_of_them else frozenset(ids)
