"""What every page works with."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime

from splicewright.background.notices import PushSender
from splicewright.background.requests import Background
from splicewright.store import NOBODY, Accounts, Actor, Register
from splicewright.store.hooks import Hooks
from splicewright.store.incoming import Incoming
from splicewright.store.notices import MailWishes
from splicewright.web.app.answer_cache import Kept


@dataclass(frozen=True)
class Room:
    """The register, the accounts and the clock of one served app.

    secure : whether people reach it by HTTPS; cookies are then marked so
    invented : whether it holds an invented site; every page says so
    hosts : names under which the app answers; empty for any
    background : where long work is asked for; None where no worker is set up
    beyond : whether other machines reach it; admins then sign in with a second factor
    hooks, incoming : of the same register; None where nobody keeps any
    kept : parts of pages that many visitors share
    before : the register is brought up to date meanwhile: pages show it as it was at that moment
    mail : who wants to be told of what by mail; None where nobody is asked
    push : who sends to phones; None where nothing is sent
    """

    register: Register
    accounts: Accounts
    now: Callable[[], datetime]
    secure: bool
    invented: bool = False
    hosts: frozenset[str] = frozenset()
    background: Background | None = None
    beyond: bool = False
    hooks: Hooks | None = None
    incoming: Incoming | None = None
    kept: Kept = field(default_factory=Kept)
    mail: MailWishes | None = None
    push: PushSender | None = None
    before: datetime | None = None

    def __post_init__(self) -> None:
        # No page records as nobody, or sees a site: it asks for the register of who is there.
        object.__setattr__(self, "register", self.register.said_by(NOBODY))

    def seen_by(self, actor: Actor) -> Room:
        """The same room with the register of somebody: their sites, under their name."""
        theirs = copy.copy(self)
        object.__setattr__(theirs, "register", self.register.said_by(actor))
        if self.background is not None:
            object.__setattr__(theirs, "background", replace(self.background, sites=actor.sites))
        return theirs
