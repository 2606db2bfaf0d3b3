"""Two phones and a server that meet failures in any order, drawn by a seed.

The server is the app itself. Nothing here knows what the scripts of a phone keep: it knows what a
person was told.
"""

from __future__ import annotations

import json
import random
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from fastapi import FastAPI
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page

from planned import planned
from splicewright.store import PersonRole
from splicewright.store.facts.facts import Correction, Fact, Stored
from splicewright.store.facts.job_facts import JobOpened
from splicewright.store.facts.joint_facts import PhotoAdded
from splicewright.store.facts.kinds import Stream
from splicewright.store.sql.register import SqlRegister, open_register
from splicewright.web.app.room import Room
from web.between import CUT, Ask, Between, Facts
from web.conftest import COOKIE, Begun, Clock
from web.set_back import put_in
from web.simulated_phone import Deleted, Phone, Said, is_colour, photograph

KEPT_SIDE = 2560
"""Of a photograph made smaller on the phone [pixel]; docs/offline.md."""
KEEPS_NOTHING = 0.15
"""Share of phones whose browser has no database."""


@cache
def _shot(width: int, height: int) -> bytes:
    return photograph(width, height, turned=True)


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
    found: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.drawn = random.Random(self.seed)
        self.used = self.folder / "register.sqlite"
        assert self.begun.job is not None
        self.job = self.begun.job.job

    # What happens

    def write(self, phone: Phone) -> None:
        """One to four comments, ticks and values, of which one in twenty is in no plan."""
        whats: list[Said] = []
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
        if phone.keeps:
            phone.write(self.job, whats)
            return
        self.write_again(phone)
        for what in whats:  # the page of such a browser says of each whether it is saved
            phone.write(self.job, [what])

    def write_again(self, phone: Phone) -> None:
        """What was said to be NOT saved, by somebody who looks first where that is told."""
        unsaid, phone.unsaid = phone.unsaid, []
        there = self._texts()
        for said, why in unsaid:
            if "look there before" not in why or said[1].get("text") not in there:
                phone.write(self.job, [said])

    def photograph(self, phone: Phone) -> None:
        self.count += 1
        phone.picture(self.job, self._small())

    def _small(self) -> bytes:
        kept = BytesIO()
        Image.new("RGB", (4, 4), (self.count % 256, self.count // 256, 0)).save(kept, "PNG")
        return kept.getvalue()

    def large_photograph(self, phone: Phone) -> None:
        """Of 48 million pixels; or one that the phone cannot draw, or that is too large to send."""
        kind = self.drawn.random()
        if kind < 0.2:
            assert not phone.picture(self.job, 23_000_000), "23 MB were kept to be sent"
        elif kind < 0.4:
            for id in phone.picture(self.job, _shot(4000, 3000), draws=False):
                phone.large[id] = 4000
        else:
            for id in phone.picture(self.job, _shot(8000, 6000)):
                phone.large[id] = KEPT_SIDE

    def ten_photographs(self, phone: Phone) -> None:
        """And the signature of a hold point after them."""
        for _ in range(10):
            self.photograph(phone)
        statement = next(
            s.hold_point for s in planned("incline", "incline-worn-joint").steps if s.key == "park"
        )
        tick: dict[str, Any] = {"step": "park", "done": True, "line": 0}
        sign: dict[str, Any] = {"step": "park", "statement": statement, "why": "", "gaps": []}
        ids = phone.write(self.job, [("step ticked", tick), ("hold point signed", sign)])
        if phone.keeps:
            phone.signed.append((ids[0], ids[1]))

    def signal(self, phone: Phone) -> None:
        phone.page.context.set_offline(self.drawn.random() < 0.5)

    def kill(self, phone: Phone) -> None:
        phone.hear()
        if self.drawn.random() < 0.5:
            phone.close_old()
        phone.open()

    def keep_pages(self, phone: Phone) -> None:
        """Somebody opens the job where there is signal: what was sent is kept to be seen again."""
        self.between.portal = None
        phone.page.context.set_offline(False)
        phone.flush()
        phone.keep_pages(self.job)

    def flush(self, phone: Phone) -> None:
        phone.flush()

    def deleted_whole(self, phone: Phone) -> None:
        self._delete(phone, whole=True)

    def deleted_database(self, phone: Phone) -> None:
        self._delete(phone, whole=False)

    def _delete(self, phone: Phone, *, whole: bool) -> None:
        phone.hear()
        phone.delete(pages=whole, database=True, beside=whole)
        phone.deleted.append(Deleted(frozenset(phone.kept), self.arrived()))
        phone.open()

    def deleted_pages(self, phone: Phone) -> None:
        """The database is there: who opens the job without signal is told how much waits."""
        before = len(phone.hear()["outbox"])
        phone.delete(pages=True, database=False, beside=False)
        phone.open()
        phone.page.context.set_offline(True)
        read, after = phone.look(self.job), len(phone.hear()["outbox"])
        said = {
            f"{n} entr{'y waits' if n == 1 else 'ies wait'} on this phone" if n
            else "Nothing waits on this phone" for n in (before, after)
        }  # fmt: skip
        if not any(s in read for s in said):
            self.found.append(
                f"{phone.name}: {before} to {after} entries wait, and it says: {read}"
            )

    def upgraded(self, phone: Phone) -> None:
        """The browser deleted all while a tab of the version before was to be opened next: that
        fills the outbox anew, then the new page takes the store over with the old tab open."""
        if not phone.keeps:
            return
        phone.hear()
        phone.delete(pages=True, database=True, beside=True)
        phone.deleted.append(Deleted(frozenset(phone.kept), self.arrived()))
        self.count += 1
        phone.open_old(self.job, self.drawn.randint(1, 120), f"{phone.name} old {self.count}")
        phone.open()

    def old_tab_writes(self, phone: Phone) -> None:
        self.count += 1
        phone.write_in_old(1000 * self.count)

    def withdrawn(self, _: Phone) -> None:
        """A lead withdraws the job, or opens it again."""
        opened = self.register.facts_about(self.job)[0].fact
        assert isinstance(opened.what, JobOpened)
        instead = opened.what if self.register.job(self.job) is None else None
        said = Correction(Stream.JOB, self.job, opened.id, instead, "whose job it is")
        self.register.append(Fact(uuid4(), self.clock(), "Lead Example", said))

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

    def _texts(self) -> list[str]:
        facts = self.register.facts_about(self.job)
        return [s.fact.what.text for s in facts if hasattr(s.fact.what, "text")]

    def run(self, events: int, drawn: Events) -> None:
        """Draw what happens, then let all troubles end."""
        self._serve()
        for phone in self.phones:
            phone.open()
            phone.flush()
        for _ in range(events):
            phone = self.drawn.choice(self.phones)
            event = self.drawn.choices(*zip(*drawn, strict=True))[0]
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
        if self.register.job(self.job) is None:
            self.withdrawn(self.phones[0])
        for phone in self.phones:
            self.write_again(phone)
            phone.settle()

    def faults(self) -> list[str]:
        """What must never be; empty when nothing is."""
        there = self.arrived()
        stored = self.register.facts_about(self.job)
        texts = self._texts()
        found = self.found + ([] if len(texts) == len(set(texts)) else ["a comment is there twice"])
        found += _while_withdrawn(stored)
        for phone in self.phones:
            now = phone.hear()
            held = {r["id"]: r for r in now["outbox"]}
            kinds = {n["kind"] for n in phone.notices}
            found += [
                f"{phone.name}: {id} waits and nobody was told why"
                for id, r in held.items()
                if r["state"] != "person" or not r["faults"]
            ]
            # A picture that was sent can be offered again only while its copy is kept.
            gone = phone.pictures - phone.copied if self.set_back else set()
            may_be_refused = phone.invented | gone
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
                # A browser that keeps nothing has said so from the first.
                if not why or (phone.keeps and "lost" not in kinds):
                    found.append(f"{phone.name}: {id} was kept and is lost; told: {kinds or 'no'}")
            if "lost" in kinds and not phone.deleted:
                found.append(f"{phone.name}: told of a loss that never was")
            found += [
                f"{phone.name}: {said} is NOT saved without trouble: {why}"
                for said, why in phone.unsaid
                if said[1].get("what") != "made up" and not phone.keeps
            ]
            found += self._looked_at(phone, stored)
            odd = {str(s.fact.id) for s in stored if s.odd_date}
            found += [f"{phone.name}: {id} is not marked" for id in (phone.odd & there) - odd]
        if len(there) != len(stored):
            found.append("a fact is there twice")
        return found

    def _looked_at(self, phone: Phone, stored: tuple[Stored, ...]) -> list[str]:
        """What is wrong with its large photographs and its signatures."""
        by_id = {str(s.fact.id): s for s in stored}
        found = []
        for tick, sign in phone.signed:
            if {tick, sign} <= by_id.keys() and by_id[tick].seq > by_id[sign].seq:
                found.append(f"{phone.name}: {sign} was recorded before what it signs")
        for id in phone.large.keys() & by_id.keys():
            what = by_id[id].fact.what
            assert isinstance(what, PhotoAdded)
            data = self.register.content(what.photo).data
            shown = Image.open(BytesIO(data)).convert("RGB")
            wide, high = shown.size
            red = is_colour(shown.getpixel((int(0.9 * wide), int(0.1 * high))), "red")
            blue = is_colour(shown.getpixel((int(0.1 * wide), int(0.1 * high))), "blue")
            if not (red and blue and max(shown.size) <= phone.large[id]):
                found.append(f"{phone.name}: the photograph {id} of {shown.size} is not as taken")
        return found

    def _excuse(self, phone: Phone, id: str) -> str:
        """Why an entry may be gone: its phone's store was deleted while it waited there, or the
        register was set back when no phone held it any more."""
        if not phone.keeps and any(id in gone for gone in self.set_back):
            return "kept nowhere else, and the register set back"
        for deleted in phone.deleted:
            if id in deleted.after:
                if id not in deleted.arrived:
                    return "deleted while it waited"
                if any(id in gone for gone in self.set_back):
                    return "deleted, and the register set back"
        return ""


def _while_withdrawn(stored: tuple[Stored, ...]) -> list[str]:
    """Whatever was recorded of the job while it was withdrawn."""
    found, withdrawn = [], False
    for fact in (s.fact for s in stored):
        if isinstance(fact.what, Correction):
            withdrawn = fact.what.instead is None
        elif withdrawn:
            found.append(f"{fact.kind} {fact.id} was recorded of a withdrawn job")
    return found


Event = Callable[[Story, Phone], None]
Events = tuple[tuple[Event, float], ...]
FIRST: Events = (
    (Story.write, 8), (Story.photograph, 1), (Story.signal, 4), (Story.kill, 2), (Story.flush, 3),
    (Story.deleted_whole, 1), (Story.deleted_database, 0.7), (Story.clock_jumps, 1),
    (Story.portal, 3), (Story.trouble, 2), (Story.rights, 1), (Story.copy, 1.5),
    (Story.restore, 1.2),
)  # fmt: skip
"""What was drawn first, on phones that have a database: seeds found then mean the same still."""
EVENTS: Events = (
    *FIRST, (Story.keep_pages, 1.5), (Story.deleted_pages, 0.7), (Story.upgraded, 0.6),
    (Story.old_tab_writes, 1), (Story.large_photograph, 0.8), (Story.ten_photographs, 0.8),
    (Story.withdrawn, 1),
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

    def play(self, seed: int, events: int, folder: Path, drawn: Events = EVENTS) -> Story:
        """One run, from nothing."""
        of = random.Random(f"phones {seed}")
        folder.mkdir()
        shutil.copy(self.begun.path, folder / "register.sqlite")
        register = open_register(folder / "register.sqlite", clock=self.clock, check=False)
        phones = []
        for name, role, page in zip("AB", ("crew", "lead"), self.pages, strict=True):
            context = page.context
            context.clear_cookies()
            context.add_cookies(
                [{"name": COOKIE, "value": self.begun.sessions[role], "url": self.site}]
            )
            keeps = drawn is FIRST or of.random() >= KEEPS_NOTHING
            phones.append(Phone(name, page, str(self.begun.people[role].account), keeps))
            phones[-1].begin()
        story = Story(
            seed, (phones[0], phones[1]), register, self.app, self.between, self.clock, self.begun,
            folder,
        )  # fmt: skip
        try:
            story.run(events, drawn)
        except Exception as error:
            error.add_note(f"seed {seed}: {json.dumps(story.done)}")
            raise
        return story


@contextmanager
def stage(
    browser: Browser, site: str, app: FastAPI, between: Between, begun: Begun, clock: Clock
) -> Iterator[Stage]:
    """Two browsers on a page of the app that runs no script of its own."""
    contexts: list[BrowserContext] = [browser.new_context(base_url=site) for _ in range(2)]
    pages = [context.new_page() for context in contexts]
    for page in pages:
        page.goto("/sign-in")
    yield Stage(site, app, between, begun, clock, (pages[0], pages[1]))
    for context in contexts:
        context.close()
