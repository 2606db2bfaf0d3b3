"""Hooks: other systems are told of facts as they are recorded, each hook from where it stands.

A hook is a place in the order of facts, an address and a secret. It acts as the admin who made it,
with the role and the sites they have at that moment, so it tells of nothing that they could not
read. A worker holds a hook for a while and tells one fact after the other; a worker that dies lets
go of it by time alone. A fact may therefore be told twice, and is never skipped: what an address
does not take after many tries becomes a dead letter, which an admin sees and sends again.

Hooks are no facts. They hold secrets, which are kept sealed: the server signs with them. What is
done with a hook is a line in the log of accounts.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import SplitResult, urlsplit
from uuid import UUID, uuid4

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Connection,
    Engine,
    ForeignKey,
    Integer,
    LargeBinary,
    String,
    Table,
    Text,
    and_,
    delete,
    func,
    insert,
    or_,
    select,
    update,
)

from splicewright.errors import Fault, InputError
from splicewright.store.accounts import changing
from splicewright.store.accounts.accounts import Change
from splicewright.store.authority import Actor, Scope
from splicewright.store.database import opening
from splicewright.store.database.schema import METADATA, Id, Instant
from splicewright.store.database.sealing import Seal
from splicewright.store.facts.kinds import KINDS
from splicewright.store.facts.plant_facts import PersonRole
from splicewright.store.refusals import NotAllowedError
from splicewright.store.sites import Sites, covers, from_written, may_let_into, written

MOST_TRIES = 12
"""A fact that was not taken so often is set aside: after about three and a half hours."""
TRIES_REFUSED = 3
"""The same where the address answers that it will not take this very fact."""
FIRST_WAIT, LONGEST_WAIT = 10.0, 3600.0
"""After the first failure, and at most, between two tries [s]; each wait is twice the last."""
HELD = timedelta(seconds=90)
"""So long a worker holds a hook; a turn is much shorter."""
OVERLAP = timedelta(days=1)
"""So long the former secret signs too after a new one was made."""
MOST_HOOKS = 50
"""Hooks that work at the same time."""
LONGEST_URL = 500
_MEANWHILE = "Until then nothing is sent"
_ADMINS = "hooks are for admins to see, make, change and end; ask them"


@dataclass(frozen=True, slots=True)
class Hook:
    """A hook as it stands.

    kinds : of facts told; empty for all
    sites : told of, where its maker is still let into them; None for all, those added later too
    account, by : of who made it; None for the console
    private : whether it may call addresses of the own network
    seq : number of the last fact told or set aside
    tries : failures in a row with the fact after it; next_try : not before this moment
    last_delivery : when the address last took one
    failure : why it last did not; empty when it did
    letters : dead letters
    """

    hook: UUID
    label: str
    url: str
    kinds: tuple[str, ...]
    sites: Sites
    account: UUID | None
    by: str
    private: bool
    created: datetime
    ended: datetime | None
    seq: int
    tries: int
    next_try: datetime
    last_delivery: datetime | None
    failure: str
    letters: int = 0


@dataclass(frozen=True, slots=True)
class Letter:
    """A fact that an address did not take.

    seq : number of the fact; at : when it was set aside; tries : by then; failure : why
    again : whether it is about to be sent again
    """

    seq: int
    at: datetime
    tries: int
    failure: str
    again: bool


HOOKS = Table(
    "hooks",
    METADATA,
    Column("hook", Id, primary_key=True),
    Column("label", Text, nullable=False),
    Column("url", Text, nullable=False),
    Column("kinds", Text, nullable=False),
    Column("sites", Text),
    Column("account", Id),
    Column("by", Text, nullable=False),
    Column("private", Boolean, nullable=False),
    Column("secret", LargeBinary, nullable=False),
    Column("former", LargeBinary),
    Column("former_until", Instant),
    Column("created", Instant, nullable=False),
    Column("ended", Instant),
    Column("seq", BigInteger, nullable=False),
    Column("tries", Integer, nullable=False),
    Column("next_try", Instant, nullable=False),
    Column("held_until", Instant),
    Column("holder", String(120), nullable=False),
    Column("last_delivery", Instant),
    Column("failure", Text, nullable=False),
)
LETTERS = Table(
    "hook_letters",
    METADATA,
    Column("hook", Id, ForeignKey("hooks.hook"), primary_key=True),
    Column("seq", BigInteger, primary_key=True, autoincrement=False),
    Column("at", Instant, nullable=False),
    Column("tries", Integer, nullable=False),
    Column("failure", Text, nullable=False),
    Column("again", Boolean, nullable=False),
)
_INNER = {"secret", "former", "former_until", "held_until", "holder"}
_SHOWN = [c for c in HOOKS.c if c.name not in _INNER]


def split_url(url: str, *, private: bool) -> SplitResult:
    """The parts of an address that a hook may have; where it leads is looked at for each call.

    Raises
    ------
    InputError
        It cannot be one.
    """
    try:
        split = urlsplit(url)
        there = bool(split.hostname) and split.port != 0
    except ValueError:
        there = False
    plain = url.isascii() and url.isprintable() and " " not in url
    if not there or not plain or len(url) > LONGEST_URL or split.scheme not in {"https", "http"}:
        say = "is no address; accepted is such as https://receiver.example.org/facts"
        raise InputError(Fault("url", say))
    if split.username is not None or split.fragment:
        say = "holds a name, a password or a fragment; accepted is an address without them"
        raise InputError(Fault("url", say))
    if split.scheme == "http" and not private:
        say = (
            "is not encrypted; accepted is https, and http only where addresses of the own network "
            "are allowed"
        )
        raise InputError(Fault("url", say))
    return split


class Hooks:
    """The hooks of one register's database. May be used by many threads."""

    def __init__(self, engine: Engine, clock: Callable[[], datetime]) -> None:
        self._engine = engine
        self._writer = opening.writing(engine)
        self._clock = clock
        self._seal = Seal(opening.key_place(engine.url), _MEANWHILE)

    # What admins do

    def make(
        self,
        actor: Actor,
        label: str,
        url: str,
        *,
        since: int,
        kinds: Collection[str] = (),
        sites: Sites = None,
        private: bool = False,
    ) -> tuple[Hook, bytes]:
        """Make a hook; gives its secret, which is shown this once.

        Parameters
        ----------
        since : number of the fact after which it begins
        kinds : of facts; empty for all
        private : whether it may call addresses of the own network

        Raises
        ------
        NotAllowedError
            The actor is no admin, or not let into those sites.
        KeyAwayError
            Secrets are sealed with a key that is away.
        InputError
            Label, address or kinds cannot be used; there are too many hooks.
        """
        _ask(actor)
        sites = actor.sites if sites is None else sites
        fault = may_let_into(actor.sites, sites)
        if fault is not None:
            raise NotAllowedError(fault)
        label = label.strip()
        faults = []
        if not label or len(label) > 120 or not label.isprintable():
            faults.append(Fault("label", "cannot be; accepted are 1 to 120 letters"))
        unknown = sorted(set(kinds) - set(KINDS))
        if unknown:
            accepted = ", ".join(sorted(KINDS))
            say = f"{unknown[0][:60]!r} is no kind of fact; accepted is {accepted}"
            faults.append(Fault("kinds", say))
        try:
            split_url(url, private=private)
        except InputError as error:
            faults += error.faults
        if faults:
            raise InputError(*faults)
        id, secret, now = uuid4(), secrets.token_bytes(32), self._now()
        with opening.said_plainly(), self._writer.begin() as connection:
            working = select(HOOKS.c.label).where(HOOKS.c.ended.is_(None))
            names = set(connection.execute(working).scalars())
            if label in names:
                say = f'"{label}" is the name of a hook that works; end that, or take another name'
                raise InputError(Fault("label", say))
            if len(names) >= MOST_HOOKS:
                raise InputError(Fault("", f"{MOST_HOOKS} hooks work already; end one first"))
            connection.execute(
                insert(HOOKS).values(
                    hook=id,
                    label=label,
                    url=url,
                    kinds="\n".join(sorted(set(kinds))),
                    sites=written(sites),
                    account=actor.account,
                    by=actor.name or "console",
                    private=private,
                    secret=self._seal.seal(connection, id, secret),
                    created=now,
                    seq=since,
                    tries=0,
                    next_try=now,
                    holder="",
                    failure="",
                )
            )
            hook = _read(connection, id)
            assert hook is not None
            self._log(connection, actor, Change.HOOK_MADE, hook, f"to {url}, from fact {since + 1}")
        return hook, secret

    def all(self, actor: Actor) -> tuple[Hook, ...]:
        """Hooks of sites that the actor is let into, those that work first, by label."""
        _ask(actor)
        number = func.count(LETTERS.c.seq)
        query = (
            select(*_SHOWN, number)
            .outerjoin(LETTERS, LETTERS.c.hook == HOOKS.c.hook)
            .group_by(*_SHOWN)
            .order_by(HOOKS.c.ended.is_not(None), HOOKS.c.label, HOOKS.c.hook)
        )
        with opening.reading(self._engine) as connection:
            hooks = [_hook(row) for row in connection.execute(query)]
        return tuple(h for h in hooks if covers(actor.sites, h.sites))

    def one(self, actor: Actor, hook: UUID) -> Hook | None:
        """One hook; None when there is none, or it tells of sites the actor is not let into."""
        return next((h for h in self.all(actor) if h.hook == hook), None)

    def end(self, actor: Actor, hook: UUID) -> None:
        """End it: nothing more is sent, and its secret is gone."""
        gone: dict[str, Any] = {"secret": b"", "former": None, "former_until": None}
        self._change(actor, hook, Change.HOOK_ENDED, ended=self._now(), **gone)

    def new_secret(self, actor: Actor, hook: UUID) -> bytes:
        """Make another secret, shown this once; the former one signs too for a day."""
        secret = secrets.token_bytes(32)
        until = self._now() + OVERLAP
        kept: dict[str, Any] = {"former": HOOKS.c.secret, "former_until": until}
        self._change(actor, hook, Change.HOOK_SECRET, new=secret, **kept)
        return secret

    def replay(self, actor: Actor, hook: UUID, since: int) -> None:
        """Tell again of all facts after number `since`, at once."""
        values: dict[str, Any] = {"seq": since, "tries": 0, "next_try": self._now(), "failure": ""}
        self._change(actor, hook, Change.HOOK_REPLAYED, f"from fact {since + 1}", **values)

    def letters(
        self, actor: Actor, hook: UUID, *, after: int = 0, limit: int = 100
    ) -> tuple[Letter, ...]:
        """Dead letters of a hook by number, after number `after`."""
        self._there(actor, hook)
        query = select(*list(LETTERS.c)[1:]).where(LETTERS.c.hook == hook, LETTERS.c.seq > after)
        with opening.reading(self._engine) as connection:
            rows = connection.execute(query.order_by(LETTERS.c.seq).limit(limit))
            return tuple(Letter(*row) for row in rows)

    def send_again(self, actor: Actor, hook: UUID) -> int:
        """Send all dead letters of a hook again, before anything else; gives their number."""
        values: dict[str, Any] = {"tries": 0, "next_try": self._now(), "failure": ""}
        self._change(actor, hook, Change.HOOK_AGAIN, **values)
        with opening.said_plainly(), self._writer.begin() as connection:
            mine = update(LETTERS).where(LETTERS.c.hook == hook)
            return connection.execute(mine.values(again=True)).rowcount

    # What a worker does

    def take(self, worker: str) -> Hook | None:
        """Hold the hook that waited longest; None when none is due."""
        now = self._now()
        due = and_(
            HOOKS.c.ended.is_(None),
            HOOKS.c.next_try <= now,
            # A hold from the future was taken before the clock was set back.
            or_(
                HOOKS.c.held_until.is_(None),
                HOOKS.c.held_until < now,
                HOOKS.c.held_until > now + HELD,
            ),
        )
        query = select(HOOKS.c.hook).where(due).order_by(HOOKS.c.next_try, HOOKS.c.hook).limit(1)
        with opening.reading(self._engine) as connection:
            wanted = connection.execute(query).scalar()
        if wanted is None:
            return None
        mine = update(HOOKS).where(HOOKS.c.hook == wanted, due)
        with opening.said_plainly(), self._writer.begin() as connection:
            if not connection.execute(mine.values(held_until=now + HELD, holder=worker)).rowcount:
                return None
            return _read(connection, wanted)

    def keys(self, hook: Hook) -> tuple[bytes, ...]:
        """The secrets that sign for a hook now.

        Raises
        ------
        KeyAwayError
            They are sealed with a key that is away.
        DamagedError
            One is not what was sealed for this hook.
        """
        query = select(HOOKS.c.secret, HOOKS.c.former, HOOKS.c.former_until)
        with opening.reading(self._engine) as connection:
            row = connection.execute(query.where(HOOKS.c.hook == hook.hook)).one()
        kept = [row.secret]
        if row.former is not None and row.former_until > self._now():
            kept.append(row.former)
        return tuple(self._seal.open(hook.hook, bytes(secret)) for secret in kept)

    def waiting_letters(self, hook: Hook, limit: int) -> tuple[Letter, ...]:
        """Dead letters that are to be sent again."""
        mine = and_(LETTERS.c.hook == hook.hook, LETTERS.c.again.is_(True))
        query = select(*list(LETTERS.c)[1:]).where(mine).order_by(LETTERS.c.seq).limit(limit)
        with opening.reading(self._engine) as connection:
            return tuple(Letter(*row) for row in connection.execute(query))

    def delivered(self, hook: Hook, before: int, seq: int) -> bool:
        """The address took fact `seq`; False when the hook was moved from `before` meanwhile."""
        with opening.said_plainly(), self._writer.begin() as connection:
            letter = and_(LETTERS.c.hook == hook.hook, LETTERS.c.seq == seq)
            connection.execute(delete(LETTERS).where(letter))
            values = {
                "tries": 0,
                "last_delivery": self._now(),
                "failure": "",
                "seq": max(before, seq),
            }
            return self._stands(connection, hook, before, **values)

    def passed(self, hook: Hook, before: int, seq: int) -> bool:
        """Nothing up to `seq` is to be told; False when the hook was moved meanwhile."""
        with opening.said_plainly(), self._writer.begin() as connection:
            return self._stands(connection, hook, before, seq=seq)

    def missed(
        self, hook: Hook, before: int, seq: int, reason: str, *, refused: bool, wait: float = 0.0
    ) -> None:
        """The address did not take fact `seq`: it is tried again later, or set aside.

        refused : it answered that it will not take this very fact
        wait : it asked to be left alone for so long [s]
        """
        now, tries = self._now(), hook.tries + 1
        pause = min(FIRST_WAIT * 2 ** min(hook.tries, 20), LONGEST_WAIT)
        pause = min(max(pause, wait), LONGEST_WAIT)
        values: dict[str, Any] = {"tries": tries, "next_try": now + timedelta(seconds=pause)}
        with opening.said_plainly(), self._writer.begin() as connection:
            aside = tries >= (TRIES_REFUSED if refused else MOST_TRIES)
            if aside:
                letter = and_(LETTERS.c.hook == hook.hook, LETTERS.c.seq == seq)
                connection.execute(delete(LETTERS).where(letter))
                connection.execute(
                    insert(LETTERS).values(
                        hook=hook.hook, seq=seq, at=now, tries=tries, failure=reason, again=False
                    )
                )
                values = {"tries": 0, "next_try": now, "seq": max(before, seq)}
            self._stands(connection, hook, before, failure=reason, **values)

    def let_go(self, hook: Hook, wait: float, reason: str | None = None) -> None:
        """Let another worker have it, in so many seconds; `reason` : why nothing can be sent."""
        values: dict[str, Any] = {"held_until": None, "holder": ""}
        if reason is not None:
            values["failure"] = reason
        later = self._now() + timedelta(seconds=wait)
        with opening.said_plainly(), self._writer.begin() as connection:
            mine = update(HOOKS).where(HOOKS.c.hook == hook.hook)
            connection.execute(mine.values(**values))
            connection.execute(mine.where(HOOKS.c.next_try < later).values(next_try=later))

    def _stands(self, connection: Connection, hook: Hook, before: int, **values: Any) -> bool:
        """Change a hook that nobody moved or ended; a replay meanwhile is worth more."""
        mine = and_(HOOKS.c.hook == hook.hook, HOOKS.c.seq == before, HOOKS.c.ended.is_(None))
        return bool(connection.execute(update(HOOKS).where(mine).values(**values)).rowcount)

    def _change(
        self,
        actor: Actor,
        hook: UUID,
        change: Change,
        note: str = "",
        *,
        new: bytes | None = None,
        **values: Any,
    ) -> None:
        """Change a hook that works, with a line in the log; new : its secret from now on."""
        there = self._there(actor, hook)
        works = and_(HOOKS.c.hook == hook, HOOKS.c.ended.is_(None))
        with opening.said_plainly(), self._writer.begin() as connection:
            if new is not None:
                values["secret"] = self._seal.seal(connection, hook, new)
            if not connection.execute(update(HOOKS).where(works).values(**values)).rowcount:
                raise InputError(Fault("hook", "has ended; make a new one"))
            self._log(connection, actor, change, there, note)

    def _log(
        self, connection: Connection, actor: Actor, change: Change, hook: Hook, note: str
    ) -> None:
        text = f"{hook.label}, {note}" if note else hook.label
        changing.log(connection, self._now(), change, actor.account, actor.account, text)

    def _there(self, actor: Actor, hook: UUID) -> Hook:
        record = self.one(actor, hook)
        if record is None:
            raise InputError(Fault("hook", f"there is no hook {hook}"))
        return record

    def _now(self) -> datetime:
        return self._clock().astimezone(UTC)


def _ask(actor: Actor) -> None:
    """Hooks carry facts out of the house: only admins, at every door.

    Raises
    ------
    NotAllowedError
        The actor is none, or a key without the scope `admin`.
    """
    if not (actor.role.reaches(PersonRole.ADMIN) and actor.holds(Scope.ADMIN)):
        raise NotAllowedError(Fault("", _ADMINS))


def _read(connection: Connection, hook: UUID) -> Hook | None:
    row = connection.execute(select(*_SHOWN).where(HOOKS.c.hook == hook)).first()
    return None if row is None else _hook(row)


def _hook(row: Any) -> Hook:
    values = dict(zip((c.key for c in _SHOWN), row, strict=False))
    values["kinds"] = tuple(values["kinds"].split("\n")) if values["kinds"] else ()
    values["sites"] = from_written(values["sites"])
    letters = row[len(_SHOWN)] if len(row) > len(_SHOWN) else 0
    return Hook(**values, letters=letters)
