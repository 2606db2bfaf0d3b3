"""Pages on a slow phone with a weak signal: until they can be worked on, how much is sent for them,
and how long a verdict takes after a tap.

Prints only. The processor is slowed down four times and the line held to 400 kbit/s by Chromium's
debugger. On a busy machine the times say little: bytes, processor time and ratios say more.
"""

from __future__ import annotations

import shutil
import socket
import statistics
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

import uvicorn
from playwright.sync_api import Browser, BrowserContext, CDPSession, Page, sync_playwright

from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.plan.plan import plan_joint
from splicewright.actions.plan.record import record_plan
from splicewright.store import PersonRole
from splicewright.store.facts.facts import Fact
from splicewright.store.facts.joint_facts import JointBuilt, JointPutToWork
from splicewright.store.sql.register import open_register
from splicewright.web.app.room import Room
from splicewright.web.routes import make_app

SITE = Path(__file__).parents[1] / "examples" / "karst-hollow"
SLOWER, RUNS, TAPS = 4, 5, 8
LINE = 400e3 / 8
"""Of a weak signal [byte/s]; an answer begins after 0.15 s (an assumption)."""
WANTED, WANTED_AGAIN, WANTED_TAP = 2.5, 0.7, 0.1
"""First view, opened again without signal, verdict after a tap [s]."""
LARGEST = 80
"""What a first view may need [kB]."""
_PASSWORD = "three wet stones"
_READY = """(() => {
  const [mark] = performance.getEntriesByName("job ready");
  const [whole] = performance.getEntriesByType("navigation");
  return mark ? mark.startTime : whole.domContentLoadedEventEnd;
})()"""
_TAP = """(count) => {
  const plates = [...document.querySelectorAll("svg.joint .plate[data-field]")];
  return plates.slice(2, 2 + count).map((plate) => {
    const from = performance.now();
    plate.dispatchEvent(new MouseEvent("click", { bubbles: true }));
    plate.dispatchEvent(new MouseEvent("click", { bubbles: true }));
    const both = performance.now() - from;
    if (document.querySelector("#verdict.stale")) throw new Error("no verdict");
    return both / 2;
  });
}"""
"""Two taps on each of some plates, worn and then cracked, one plate more each time."""
_PIN = """(wear) => {
  const box = document.querySelector('#inspection [name="pin_now"]');
  document.querySelector('#inspection [name="pin_new"]').value = "8 mm";
  return wear.map((typed) => {
    box.value = typed;
    const from = performance.now();
    box.dispatchEvent(new InputEvent("input", { bubbles: true }));
    const took = performance.now() - from;
    if (document.querySelector("#verdict.stale")) throw new Error(`no verdict for ${typed}`);
    return took;
  });
}"""
"""The last keystroke of a worn pin, each time another diameter, so that nothing of it is kept."""


@contextmanager
def _served(folder: Path) -> Iterator[tuple[str, dict[str, str]]]:
    """Address of the app, and the paths of what is looked at by name."""
    with open_register(folder / "register.sqlite") as register:
        file = SITE / "conveyors" / "incline.toml"
        now = datetime.now(UTC)
        conveyor = record_conveyor(register, file, by="Ada Example", now=now).conveyor
        plan = plan_joint(file, SITE / "jobs" / "incline-worn-joint.toml")
        made = record_plan(register, plan, conveyor=conveyor, label="J7", by="Ada Example", now=now)
        for what in (JointBuilt(made.joint), JointPutToWork(made.joint)):
            register.append(Fact(uuid4(), now, "Ada Example", what))
        accounts = register.accounts(hash_memory=64)
        accounts.accept(accounts.invite("Ada Example", PersonRole.CREW, None), "ada", _PASSWORD)
        app = make_app(Room(register, accounts, lambda: datetime.now(UTC), secure=False))
        listening = socket.socket()
        listening.bind(("127.0.0.1", 0))
        server = uvicorn.Server(uvicorn.Config(app, log_level="critical", access_log=False))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            thread.join(0.01)
        yield (
            f"http://127.0.0.1:{listening.getsockname()[1]}",
            {
                "today": "/",
                "job": f"/jobs/{made.job}",
                "inspection": f"/joints/{made.joint}/inspect",
            },
        )
        server.should_exit = True
        thread.join()
        listening.close()


def _sign_in(context: BrowserContext) -> None:
    page = context.new_page()
    page.goto("/sign-in")
    page.get_by_label("Name", exact=True).fill("ada")
    page.get_by_label("Password").fill(_PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/")
    page.close()


@dataclass(frozen=True)
class Seen:
    """One view: until it can be worked on [s], of it the page's processor time [s], bytes sent."""

    ready: float
    worked: float
    sent: int


def _slowed(page: Page, *, weak: bool) -> CDPSession:
    devtools = page.context.new_cdp_session(page)
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    devtools.send("Performance.enable", {"timeDomain": "threadTicks"})
    devtools.send("Network.enable")
    if weak:
        devtools.send("Network.emulateNetworkConditions", {
            "offline": False, "latency": 150, "downloadThroughput": LINE, "uploadThroughput": LINE,
        })  # fmt: skip
    return devtools


def _look(context: BrowserContext, path: str, *, weak: bool) -> Seen:
    page = context.new_page()
    devtools = _slowed(page, weak=weak)
    sent: list[float] = []
    devtools.on("Network.loadingFinished", lambda e: sent.append(e["encodedDataLength"]))
    page.goto(path, wait_until="commit")
    wanted = "html[data-ready=job]" if path.startswith("/jobs/") else "h1"
    page.wait_for_selector(wanted, state="attached")
    page.wait_for_load_state("domcontentloaded")
    told = devtools.send("Performance.getMetrics")["metrics"]
    worked = {m["name"]: float(m["value"]) for m in told}["TaskDuration"]
    ready, needed = page.evaluate(_READY) / 1e3, sum(sent)
    page.close()
    return Seen(ready, worked, round(needed))


Times = tuple[list[float], list[float]]
"""On the slow phone, and without the slow-down [s]."""


def _taps(context: BrowserContext, path: str) -> tuple[Times, Times]:
    """Each verdict after a tap, and after the keystroke that makes a pin worn."""
    page = context.new_page()
    devtools = _slowed(page, weak=False)
    page.goto(path)
    page.wait_for_selector("form[data-works-here=yes]", timeout=120_000)
    found = []
    for rate in (SLOWER, 1):
        devtools.send("Emulation.setCPUThrottlingRate", {"rate": rate})
        taps = page.evaluate(_TAP, TAPS)
        pins = page.evaluate(_PIN, [f"{7.9 - 0.1 * n - 0.01 * rate:.2f} mm" for n in range(TAPS)])
        found.append([[t / 1e3 for t in times] for times in (taps, pins)])
    page.close()
    (slow_taps, slow_pins), (taps, pins) = found
    return (slow_taps, taps), (slow_pins, pins)


def _print(name: str, seen: list[Seen], wanted: float) -> None:
    ready = statistics.median(s.ready for s in seen)
    worked = statistics.median(s.worked for s in seen)
    sent = statistics.median(s.sent for s in seen) / 1000
    print(f"{name:<44} ready {ready:5.2f} s (wanted {wanted} s)   of it at work {worked:5.2f} s"
          f"   {sent:5.1f} kB sent")  # fmt: skip


def _measure(browser: Browser, site: str, paths: dict[str, str]) -> None:
    how: dict[str, Any] = {
        "base_url": site, "viewport": {"width": 390, "height": 844}, "is_mobile": True,
        "has_touch": True,
    }  # fmt: skip
    for name, path in paths.items():
        first, again = [], []
        for _ in range(RUNS):
            bare = browser.new_context(service_workers="block", **how)
            _sign_in(bare)
            bare.new_cdp_session(bare.new_page()).send("Network.clearBrowserCache")
            first.append(_look(bare, path, weak=True))
            bare.close()
            context = browser.new_context(**how)
            _sign_in(context)
            page = context.new_page()
            page.goto(path)
            page.evaluate("navigator.serviceWorker.ready.then(() => true)")
            if path != "/":
                page.wait_for_selector("html[data-kept=true]")
            page.close()
            context.set_offline(True)
            again.append(_look(context, path, weak=False))
            context.close()
        _print(f"{name}: first view, nothing on the phone", first, WANTED)
        _print(f"{name}: again, without signal", again, WANTED_AGAIN)
    context = browser.new_context(**how)
    _sign_in(context)
    both = _taps(context, paths["inspection"])
    context.close()
    for name, (slow, quick) in zip(("a tap", "a keystroke of a worn pin"), both, strict=True):
        middle, plain = statistics.median(slow), statistics.median(quick)
        print(f"{f'verdict after {name}':<44} {1e3 * middle:5.0f} ms, "
              f"at most {1e3 * max(slow):.0f} ms (wanted {1e3 * WANTED_TAP:.0f} ms)   "
              f"without slow-down {1e3 * plain:.0f} ms, ratio {middle / plain:.1f}")  # fmt: skip


def main() -> None:
    """Print the medians."""
    names = ("chromium-headless-shell", "chromium", "chromium-browser")
    chromium = next(filter(None, map(shutil.which, names)), None)
    if chromium is None:
        print("no chromium here: not measured")
        return
    print(f"processor {SLOWER} times slower, {LINE * 8 / 1e3:.0f} kbit/s, medians of {RUNS}; "
          f"a first view may need {LARGEST} kB")  # fmt: skip
    with (
        tempfile.TemporaryDirectory() as folder,
        _served(Path(folder)) as (site, paths),
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        _measure(browser, site, paths)
        browser.close()


if __name__ == "__main__":
    main()
