"""A phone as the simulator has it: the app's own scripts in a browser, and what its owner was told.

Each phone is a browser context of its own with the app's service worker; what a page of it runs
are the phone's own scripts, in a frame that is taken away and made anew, as a tab is that is closed
or killed.
"""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass, field
from datetime import timedelta
from io import BytesIO
from typing import Any, Literal
from uuid import UUID

from PIL import Image
from playwright.sync_api import Frame, Page

from depth import PATIENCE
from splicewright.web.app.rendering import STATIC

Said = tuple[str, dict[str, Any]]
"""Kind and content of an entry."""
DEXIE = "vendor/dexie-4.4.7.min.js"
VERSION_1 = """async ([account, job, label, count]) => {
  const db = new Dexie("splicewright", { chromeTransactionDurability: "strict" });
  db.version(1).stores({ outbox: "++seq, &id, account, job", receipts: "id, [account+job], at",
    aside: "id, account", jobs: "[account+job]", timers: "[account+job+step]", meta: "name" });
  await db.open();
  const one = (n) => ({
    id: crypto.randomUUID(), account, by: "Crew Example", device: "phone old",
    at: new Date().toISOString(), job, kind: "job commented", words: "comment", blob: null,
    what: { job, text: `${label} ${n}` }, state: "waits", faults: [] });
  window.write = async (from, count) => {
    const made = Array.from({ length: count }, (_, n) => one(from + n));
    await db.outbox.bulkAdd(made);
    return made.map((record) => record.id);
  };
  return { ids: await window.write(0, count), version: db.verno };
}"""
"""The store as the version before kept it, with the outbox full."""
_SCRIPTS = "\n".join(
    (STATIC / name).read_text("utf-8")
    for name in (DEXIE, "phone-known.js", "outbox.js", "photo-smaller.js")
)
_FRAME = """name => {
  document.querySelector(`iframe[name=${name}]`)?.remove();
  document.body.append(Object.assign(document.createElement("iframe"), { name }));
}"""
_BEGIN = """([account, off, keeps]) => {
  if (!keeps) Object.defineProperty(window, "indexedDB", { value: undefined });
  const meta = Object.assign(document.createElement("meta"), { name: "account", content: account });
  document.head.append(meta);
  window.off = off;
  const Real = Date;
  window.Date = class extends Real {
    constructor(...given) { super(...(given.length ? given : [Real.now() + window.off])); }
    static now() { return Real.now() + window.off; }
  };
}"""
_WORKER = """async () => {
  await navigator.serviceWorker.register("/service-worker.js", { scope: "/" });
  await navigator.serviceWorker.ready;
  if (navigator.serviceWorker.controller) return;
  await new Promise((taken) => navigator.serviceWorker.addEventListener("controllerchange", taken));
}"""
_DELETE = """async ([pages, database, beside]) => {
  document.querySelectorAll("iframe").forEach((tab) => tab.remove());
  if (pages) for (const name of await caches.keys()) await caches.delete(name);
  if (beside) localStorage.clear();
  if (database) {
    await new Promise((done, failed) => Object.assign(indexedDB.deleteDatabase("splicewright"),
      { onsuccess: done, onerror: failed }));
  }
}"""
_WRITE = """async ([facts, job]) => {
  const { record } = splicewright.outbox;
  try {
    return (await record(facts, { job, by: "a phone", words: "entry" })).map((r) => r.id);
  } catch (error) {
    return error.message;
  }
}"""
_PICTURE = """async ([fact, job, given, draws]) => {
  // A canvas that the phone has no memory for draws nothing.
  if (!draws) CanvasRenderingContext2D.prototype.drawImage = () => {};
  const bytes = typeof given === "number" ? new Uint8Array(given)
    : Uint8Array.from(atob(given), (c) => c.charCodeAt(0));
  try {
    const blob = await splicewright.smaller(new File([bytes], "a.jpg", { type: "image/jpeg" }));
    const about = { job, by: "a phone", words: "picture" };
    return (await splicewright.outbox.record([{ ...fact, blob }], about)).map((r) => r.id);
  } catch (error) {
    return error.message;
  }
}"""
_KEEP = """async ([account, job]) => {
  const receipts = await splicewright.outbox.db.receipts.toArray();
  const photos = new Map(receipts.filter((r) => r.kind === "photograph added")
    .map((r) => [r.id, `/photographs/${r.what.photo}`]));
  const { active } = await parent.navigator.serviceWorker.ready;
  const told = new MessageChannel();
  await new Promise((done) => {
    told.port1.onmessage = done;
    active.postMessage({ type: "keep", account, job, urls: [`/jobs/${job}`, ...photos.values()] },
      [told.port2]);
  });
  const kept = [];
  for (const [id, address] of photos) if (await caches.match(address)) kept.push(id);
  return kept;
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
    // Somebody sends again what was refused because the job was withdrawn.
    for (const { seq, faults } of (await outbox.waiting()).person) {
      if (faults.some((said) => said.includes("job was withdrawn"))) await outbox.sendAgain(seq);
    }
    const { waits } = await outbox.waiting();
    if (n && !waits.length && !(await outbox.known.due())) break;
  }
}""".replace("PATIENCE", str(1000 * PATIENCE))
_TOLD = """async () => {
  const { db, known } = splicewright.outbox;
  return { notices: await known.notices(), receipts: await db.receipts.toCollection().primaryKeys(),
    outbox: (await db.outbox.toArray()).map(({ id, state, faults }) => ({ id, state, faults })) };
}"""


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

    keeps : its browser has a database; without one an entry counts when the register has it
    kept : entries it said that it keeps; of them odd: written by a clock 400 days off, invented:
    in no plan, so that the register refuses them, pictures, and among those the large ones with
    the longest side that they may have; signed: tick and signature of a hold point
    copied : pictures of which its page cache holds a copy
    unsaid : entries of which it said that they are NOT saved, with why
    """

    name: str
    page: Page
    account: str
    keeps: bool = True
    kept: list[str] = field(default_factory=list)
    deleted: list[Deleted] = field(default_factory=list)
    notices: list[dict[str, Any]] = field(default_factory=list)
    odd: set[str] = field(default_factory=set)
    invented: set[str] = field(default_factory=set)
    pictures: set[str] = field(default_factory=set)
    large: dict[str, int] = field(default_factory=dict)
    signed: list[tuple[str, str]] = field(default_factory=list)
    copied: set[str] = field(default_factory=set)
    unsaid: list[tuple[Said, str]] = field(default_factory=list)
    off: float = 0.0

    @property
    def frame(self) -> Frame:
        """Where its scripts run."""
        return self._tab("new")

    def _tab(self, name: str) -> Frame:
        tab = self.page.frame(name)
        assert tab is not None, f"{self.name} has no tab {name}"
        return tab

    def begin(self) -> None:
        """With nothing on it, and a worker for its pages."""
        self.page.context.set_offline(False)
        self.page.evaluate(_WORKER)
        self.delete(pages=True, database=True, beside=True)

    def open(self) -> None:
        """A page of it, opened or opened anew."""
        self.page.evaluate(_FRAME, "new")
        self.frame.evaluate(_BEGIN, [self.account, self.off, self.keeps])
        self.frame.evaluate(_SCRIPTS)

    def open_old(self, job: UUID, count: int, label: str) -> None:
        """A tab of the version before, which fills the outbox of a store that is not there."""
        self.page.evaluate(_FRAME, "old")
        old = self._tab("old")
        old.evaluate((STATIC / DEXIE).read_text("utf-8"))
        made = old.evaluate(VERSION_1, [self.account, str(job), label, count])
        assert made["version"] == 1, made
        self.kept += made["ids"]

    def write_in_old(self, start: int) -> None:
        """What the old tab goes on writing, if there is one."""
        if self.page.frame("old") is not None:
            self.kept += self._tab("old").evaluate("start => window.write(start, 3)", start)

    def close_old(self) -> None:
        self.page.evaluate("() => document.querySelector('iframe[name=old]')?.remove()")

    def delete(self, *, pages: bool, database: bool, beside: bool) -> None:
        """As the browser does it, with no page of ours open."""
        self.page.evaluate(_DELETE, [pages, database, beside])
        if pages:
            self.copied.clear()

    def write(self, job: UUID, whats: list[Said]) -> list[str]:
        """Entries of which the phone says that they are kept, or NOT saved."""
        facts = [{"kind": kind, "what": {"job": str(job), **what}} for kind, what in whats]
        answer = self.frame.evaluate(_WRITE, [facts, str(job)])
        ids = self._heard(answer)
        if not ids:
            self.unsaid += [(said, answer) for said in whats]
            return []
        self.invented |= {
            id for id, (_, what) in zip(ids, whats, strict=True) if what.get("what") == "made up"
        }
        return ids

    def picture(self, job: UUID, given: bytes | int, *, draws: bool = True) -> list[str]:
        """A photograph; given a number, so many bytes that are none."""
        what = {"of": "job", "about": str(job), "photo": "", "caption": "", "step": "park",
                "damage": None}  # fmt: skip
        fact = {"kind": "photograph added", "what": what}
        sent = given if isinstance(given, int) else b64encode(given).decode()
        ids = self._heard(self.frame.evaluate(_PICTURE, [fact, str(job), sent, draws]))
        self.pictures |= set(ids)
        return ids

    def _heard(self, answer: list[str] | str) -> list[str]:
        if isinstance(answer, str):
            told = not self.keeps or "this phone could not make it smaller" in answer
            assert told and answer, f"{self.name} does not keep an entry: {answer!r}"
            return []
        self.kept += answer
        if abs(self.off) > timedelta(days=40) / timedelta(milliseconds=1):
            self.odd |= set(answer)
        return answer

    def keep_pages(self, job: UUID) -> None:
        """The page of the job and its photographs, as a page that is opened has them kept."""
        if self.keeps:
            self.copied |= set(self.frame.evaluate(_KEEP, [self.account, str(job)]))

    def look(self, job: UUID) -> str:
        """What somebody reads who opens the job in a tab of its own."""
        tab = self.page.context.new_page()
        try:
            tab.goto(f"/jobs/{job}")
            return tab.inner_text("body")
        finally:
            tab.close()

    def hear(self) -> dict[str, Any]:
        """What it shows now; notices are put down, for a later deletion takes them too."""
        if not self.keeps:
            return {"notices": [], "receipts": [], "outbox": []}
        seen: dict[str, Any] = self.frame.evaluate(_TOLD)
        self.notices += [n for n in seen["notices"] if n not in self.notices]
        return seen

    def flush(self) -> None:
        self.frame.evaluate("splicewright.outbox.flush()")

    def settle(self) -> None:
        """Until nothing is sent any more, with signal and no trouble."""
        if self.keeps:
            self.frame.evaluate(_SETTLE)


Colour = Literal["red", "blue"]


def photograph(width: int, height: int, *, turned: bool = False) -> bytes:
    """Red where it begins, blue elsewhere; turned: held upright, as its camera notes."""
    made = Image.new("RGB", (width, height), "blue")
    made.paste("red", (0, 0, width // 3, height // 3))
    exif = Image.Exif()
    if turned:
        exif[0x0112] = 6  # the top of the picture is on the right of what is stored
    kept = BytesIO()
    made.save(kept, "JPEG", exif=exif, quality=90)
    return kept.getvalue()


def is_colour(pixel: Any, colour: Colour) -> bool:
    """Whether a pixel has clearly this colour, as JPEG keeps it."""
    red, _, blue = pixel
    much, little = (red, blue) if colour == "red" else (blue, red)
    return bool(much > 200 and little < 60)
