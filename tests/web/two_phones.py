"""Two phones and a server that meet failures in any order, drawn by a seed.

Each phone is a browser context of its own; what a page of it runs are the phone's own scripts, in a
frame that is taken away and made anew, as a tab is that is closed or killed. The server is the app
itself. Nothing here knows what the scripts keep: it knows what a person was told.
"""

from __future__ import annotations

import json
import random
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Frame, Page

from depth import PATIENCE
from splicewright.store import PersonRole
from splicewright.store.sql.register import SqlRegister, open_register
from splicewright.web.app.rendering import STATIC
from splicewright.web.app.room import Room
from web.between import CUT, Ask, Between, Facts
from web.conftest import COOKIE, Begun, Clock
from web.set_back import put_in

_SCRIPTS = "\n".join(
    (STATIC / name).read_text("utf-8")
    for name in ("vendor/dexie-4.4.7.min.js", "phone-known.js", "outbox.js")
)
_FRAME = """() => {
  document.querySelector("iframe")?.remove();
  document.body.append(document.createElement("iframe"));
}"""
_BEGIN = """([account, off]) => {
  const meta = Object.assign(document.createElement("meta"), { name: "account", content: account });
  document.head.append(meta);
  window.off = off;
  const Real = Date;
  window.Date = class extends Real {
    constructor(...given) { super(...(given.length ? given : [Real.now() + window.off])); }
    static now() { return Real.now() + window.off; }
  };
}"""
_DELETE = """async (whole) => {
  document.querySelector("iframe")?.remove();
  if (whole) localStorage.clear();
  await new Promise((done, failed) => Object.assign(indexedDB.deleteDatabase("splicewright"),
    { onsuccess: done, onerror: failed }));
}"""
_WRITE = """async ([facts, job]) => {
  const { record } = splicewright.outbox;
  return (await record(facts, { job, by: "a phone", words: "entry" })).map((r) => r.id);
}"""
_PICTURE = """async ([fact, job, base64]) => {
  const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
  const blob = new Blob([bytes], { type: "image/png" });
  const about = { job, by: "a phone", words: "picture" };
  return (await splicewright.outbox.record([{ ...fact, blob }], about)).map((r) => r.id);
}"""
_SETTLE = """async () => {
  const { outbox } = splicewright;
  outbox.known.trouble();
  const end = Date.now() + PATIENCE;
  for (let n = 0; n < 8; n += 1) {
    while (outbox.state.sending) {
      if (Date.now() > end) throw new Error("it never came to an end of sending");
      await new Promise((later) => setTimeout(later, 5));
    }
    await outbox.flush();
    const { waits } = await outbox.waiting();
    if (n && !waits.length && !(await outbox.known.due())) break;
  }
}""".replace("PATIENCE", str(1000 * PATIENCE))
_TOLD = """async () => {
  const { db, known } = splicewright.outbox;
  return { notices: await known.notices(), receipts: await db.receipts.toCollection().primaryKeys(),
    outbox: (await db.outbox.toArray()).map(({ id, state, faults }) => ({ id, state, faults })) };
}"""
_DOT = (
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAA"
    "AABJRU5ErkJggg=="
)
"""A picture of one point."""


@dataclass
class Deleted:
    """A time when a phone's store was deleted.

    after : entries it had been told were kept; arrived : of all, those on the register then
    """

    after: frozenset[str]
    arrived: frozenset[str]


@dataclass
class Phone:
    """A phone, and all that its owner was told.

    kept : entries it said that it keeps; of them odd: written by a clock 400 days off, invented:
    in no plan, so that the register refuses them, and pictures
    """

    name: str
    page: Page
    account: str
    kept: list[str] = field(default_factory=list)
    deleted: list[Deleted] = field(default_factory=list)
    told: list[dict[str, Any]] = field(default_factory=list)
    odd: set[str] = field(default_factory=set)
    invented: set[str] = field(default_factory=set)
    pictures: set[str] = field(default_factory=set)
    off: float = 0.0

    @property
    def frame(self) -> Frame:
        """Where its scripts run."""
        return self.page.frames[1]

    def open(self) -> None:
        """A page of it, opened or opened anew."""
        self.page.evaluate(_FRAME)
        self.frame.evaluate(_BEGIN, [self.account, self.off])
        self.frame.evaluate(_SCRIPTS)

    def write(self, job: UUID, whats: list[tuple[str, dict[str, Any]]]) -> None:
        """Entries of which the phone says that they are kept."""
        facts = [{"kind": kind, "what": {"job": str(job), **what}} for kind, what in whats]
        ids = self.frame.evaluate(_WRITE, [facts, str(job)])
        self.invented |= {
            id for id, (_, what) in zip(ids, whats, strict=True) if what.get("what") == "made up"
        }
        self._keep(ids)

    def picture(self, job: UUID) -> None:
        what = {"of": "job", "about": str(job), "photo": "", "caption": "", "step": "park",
                "damage": None}  # fmt: skip
        fact = {"kind": "photograph added", "what": what}
        ids = self.frame.evaluate(_PICTURE, [fact, str(job), _DOT])
        self.pictures |= set(ids)
        self._keep(ids)

    def _keep(self, ids: list[str]) -> None:
        self.kept += ids
        if abs(self.off) > timedelta(days=40) / timedelta(milliseconds=1):
            self.odd |= set(ids)

    def hear(self) -> dict[str, Any]:
        """What it shows now; notices are put down, for a later deletion takes them too."""
        told: dict[str, Any] = self.frame.evaluate(_TOLD)
        self.told += [n for n in told["notices"] if n not in self.told]
        return told

    def flush(self) -> None:
        self.frame.evaluate("splicewright.outbox.flush()")


@dataclass
class Story:
    """One run: what happened, in order, for whoever reads a failure."""

    seed: int
    phones: tuple[Phone, Phone]
    register: SqlRegister
    app: FastAPI
    between: Between
    clock: Clock
    begun: Begun
    folder: Path
    done: list[str] = field(default_factory=list)
    copies: list[Path] = field(default_factory=list)
    set_back: list[frozenset[str]] = field(default_factory=list)
    count: int = 0

    def __post_init__(self) -> None:
        self.drawn = random.Random(self.seed)
        self.used = self.folder / "register.sqlite"
        assert self.begun.job is not None
        self.job = self.begun.job.job

    # What happens

    def write(self, phone: Phone) -> None:
        """One to four comments, ticks and values, of which one in twenty is in no plan."""
        whats: list[tuple[str, dict[str, Any]]] = []
        for _ in range(self.drawn.randint(1, 4)):
            self.count += 1
            kind = self.drawn.random()
            if kind < 0.05:
                whats.append(("value recorded", {
                    "step": "measure", "what": "made up", "measure": "length", "value": 0.01,
                    "typed": "10 mm", "box": 1}))  # fmt: skip
            elif kind < 0.5:
                whats.append(("job commented", {"text": f"{phone.name} {self.count}"}))
            else:
                line = self.drawn.randint(1, 3)
                done = self.drawn.random() < 0.8
                whats.append(("step ticked", {"step": "isolate", "done": done, "line": line}))
        phone.write(self.job, whats)

    def photograph(self, phone: Phone) -> None:
        phone.picture(self.job)

    def signal(self, phone: Phone) -> None:
        phone.page.context.set_offline(self.drawn.random() < 0.5)

    def kill(self, phone: Phone) -> None:
        phone.hear()
        phone.open()

    def flush(self, phone: Phone) -> None:
        phone.flush()

    def deleted_whole(self, phone: Phone) -> None:
        self._delete(phone, whole=True)

    def deleted_database(self, phone: Phone) -> None:
        self._delete(phone, whole=False)

    def _delete(self, phone: Phone, *, whole: bool) -> None:
        phone.hear()
        phone.page.evaluate(_DELETE, whole)
        phone.deleted.append(Deleted(frozenset(phone.kept), self.arrived()))
        phone.open()

    def clock_jumps(self, phone: Phone) -> None:
        phone.off = self.drawn.choice([0.0, -400.0, -1.0, 1.0, 400.0]) * 86_400_000
        phone.frame.evaluate("off => { window.off = off; }", phone.off)

    def portal(self, _: Phone) -> None:
        page = "<!doctype html><title>Canteen</title>"
        answers = [
            (200, "text/html", page),
            (200, "application/json", "{}"),
            (204, "text/html", ""),
            (422, "application/json", "{}"),
        ]
        self.between.portal = self.drawn.choice([None, *answers])

    def trouble(self, _: Phone) -> None:
        """The next answer is lost after it was recorded, or is an error."""
        lost = self.drawn.random() < 0.6

        async def once(facts: Facts, ask: Ask) -> tuple[int, str] | None:
            self.between.answer = None
            if not lost:
                return 500, "<h1>Internal error</h1>"
            await ask(facts)
            return CUT

        self.between.answer = once

    def rights(self, phone: Phone) -> None:
        role = self.drawn.choice([PersonRole.VIEWER, PersonRole.CREW])
        self.register.accounts(hash_memory=64).change_role(UUID(phone.account), role, None)

    def copy(self, _: Phone) -> None:
        self.copies.append(self.folder / f"{uuid4()}.sqlite")
        self.register.back_up(self.copies[-1])

    def restore(self, _: Phone) -> None:
        if not self.copies:
            return
        used = Path(shutil.copy(self.copies[-1], self.folder / f"{uuid4()}.sqlite"))
        old, was_in = self.register, self.used
        self.register, self.used = open_register(used, clock=self.clock, check=False), used
        there = self.arrived()
        self._serve()
        old.close()
        # Phones send all the while: what the two files hold is read when nobody writes them.
        with open_register(was_in, clock=self.clock, check=False) as closed:
            self.set_back.append(self._facts(closed) - there)

    def _serve(self) -> None:
        accounts = self.register.accounts(hash_memory=64)
        put_in(self.app, Room(self.register, accounts, self.clock, secure=False, invented=True))

    # How it is judged

    def arrived(self) -> frozenset[str]:
        """What the register holds of the job."""
        return self._facts(self.register)

    def _facts(self, register: SqlRegister) -> frozenset[str]:
        return frozenset(str(s.fact.id) for s in register.facts_about(self.job))

    def run(self, events: int) -> None:
        """Draw what happens, then let all troubles end."""
        self._serve()
        for phone in self.phones:
            phone.open()
            phone.flush()
        for _ in range(events):
            phone = self.drawn.choice(self.phones)
            event = self.drawn.choices(*zip(*EVENTS, strict=True))[0]
            self.done.append(f"{phone.name}: {event.__name__}")
            event(self, phone)
            if self.drawn.random() < 0.4:
                phone.flush()
        self.between.portal = self.between.answer = None
        for phone in self.phones:
            self.register.accounts(hash_memory=64).change_role(
                UUID(phone.account), PersonRole.CREW, None
            )
            phone.page.context.set_offline(False)
            phone.off = 0.0
            phone.frame.evaluate("() => { window.off = 0; }")
        for phone in self.phones:
            phone.frame.evaluate(_SETTLE)

    def faults(self) -> list[str]:
        """What must never be; empty when nothing is."""
        there = self.arrived()
        stored = self.register.facts_about(self.job)
        texts = [s.fact.what.text for s in stored if hasattr(s.fact.what, "text")]
        found = [] if len(texts) == len(set(texts)) else ["a comment is there twice"]
        for phone in self.phones:
            now = phone.hear()
            held = {r["id"]: r for r in now["outbox"]}
            kinds = {n["kind"] for n in phone.told}
            found += [
                f"{phone.name}: {id} waits and nobody was told why"
                for id, r in held.items()
                if r["state"] != "person" or not r["faults"]
            ]
            # A picture that was sent is kept by the service worker, which these browsers do
            # without: it cannot be offered again.
            may_be_refused = phone.invented | (phone.pictures if self.set_back else set())
            found += [
                f"{phone.name}: {id} is said to be refused: {held[id]['faults']}"
                for id in held.keys() - may_be_refused
            ]
            found += [
                f"{phone.name}: {id} is shown as sent, and the register lacks it"
                for id in now["receipts"]
                if id not in there
            ]
            for id in phone.kept:
                if id in there or id in held:
                    continue
                why = self._excuse(phone, id)
                if not why or "lost" not in kinds:
                    found.append(f"{phone.name}: {id} was kept and is lost; told: {kinds or 'no'}")
            if "lost" in kinds and not phone.deleted:
                found.append(f"{phone.name}: told of a loss that never was")
            odd = {str(s.fact.id) for s in stored if s.odd_date}
            found += [f"{phone.name}: {id} is not marked" for id in (phone.odd & there) - odd]
        if len(there) != len(stored):
            found.append("a fact is there twice")
        return found

    def _excuse(self, phone: Phone, id: str) -> str:
        """Why an entry may be gone: its phone's store was deleted while it waited there, or the
        register was set back when no phone held it any more."""
        for deleted in phone.deleted:
            if id in deleted.after:
                if id not in deleted.arrived:
                    return "deleted while it waited"
                if any(id in gone for gone in self.set_back):
                    return "deleted, and the register set back"
        return ""


Event = Callable[[Story, Phone], None]
EVENTS: tuple[tuple[Event, float], ...] = (
    (Story.write, 8), (Story.photograph, 1), (Story.signal, 4), (Story.kill, 2), (Story.flush, 3),
    (Story.deleted_whole, 1), (Story.deleted_database, 0.7), (Story.clock_jumps, 1),
    (Story.portal, 3), (Story.trouble, 2), (Story.rights, 1), (Story.copy, 1.5),
    (Story.restore, 1.2),
)  # fmt: skip
"""What may happen, and how often beside the others."""


@dataclass
class Stage:
    """What runs share: the served app, two browsers, a register to copy from."""

    site: str
    app: FastAPI
    between: Between
    begun: Begun
    clock: Clock
    pages: tuple[Page, Page]

    def play(self, seed: int, events: int, folder: Path) -> Story:
        """One run, from nothing."""
        folder.mkdir()
        shutil.copy(self.begun.path, folder / "register.sqlite")
        register = open_register(folder / "register.sqlite", clock=self.clock, check=False)
        phones = []
        for name, role, page in zip("AB", ("crew", "lead"), self.pages, strict=True):
            context = page.context
            context.set_offline(False)
            page.evaluate(_DELETE, True)
            context.clear_cookies()
            context.add_cookies(
                [{"name": COOKIE, "value": self.begun.sessions[role], "url": self.site}]
            )
            phones.append(Phone(name, page, str(self.begun.people[role].account)))
        story = Story(
            seed, (phones[0], phones[1]), register, self.app, self.between, self.clock, self.begun,
            folder,
        )  # fmt: skip
        try:
            story.run(events)
        except Exception as error:
            error.add_note(f"seed {seed}: {json.dumps(story.done)}")
            raise
        return story


@contextmanager
def stage(
    browser: Browser, site: str, app: FastAPI, between: Between, begun: Begun, clock: Clock
) -> Iterator[Stage]:
    """Two browsers on a page of the app that runs no script of its own."""
    contexts: list[BrowserContext] = [
        browser.new_context(base_url=site, service_workers="block") for _ in range(2)
    ]
    pages = [context.new_page() for context in contexts]
    for page in pages:
        page.goto("/sign-in")
    yield Stage(site, app, between, begun, clock, (pages[0], pages[1]))
    for context in contexts:
        context.close()
