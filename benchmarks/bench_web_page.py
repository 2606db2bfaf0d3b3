"""The page of a job on a slow phone: until it can be worked on, and how much is sent for it.

Prints only. The processor is slowed down four times by Chromium's debugger; the server is on this
machine, so the network counts in bytes, not in time.
"""

from __future__ import annotations

import shutil
import socket
import statistics
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import uvicorn
from playwright.sync_api import BrowserContext, sync_playwright

from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.plan.plan import plan_joint
from splicewright.actions.plan.record import record_plan
from splicewright.store import PersonRole
from splicewright.store.sql.register import open_register
from splicewright.web.app.room import Room
from splicewright.web.routes import make_app

SITE = Path(__file__).parents[1] / "examples" / "karst-hollow"
SLOWER, RUNS = 4, 5
WANTED = 1.5
"""A job page should be ready within this on the slow phone [s]."""
_PASSWORD = "three wet stones"
_READY = "performance.getEntriesByName('job ready')[0].startTime"


@contextmanager
def _served(folder: Path) -> Iterator[tuple[str, str]]:
    """Address of the app and path of a job."""
    with open_register(folder / "register.sqlite") as register:
        file = SITE / "conveyors" / "incline.toml"
        now = datetime.now(UTC)
        conveyor = record_conveyor(register, file, by="Ada Example", now=now).conveyor
        plan = plan_joint(file, SITE / "jobs" / "incline-worn-joint.toml")
        job = record_plan(
            register, plan, conveyor=conveyor, label="J7", by="Ada Example", now=now
        ).job
        accounts = register.accounts(hash_memory=64)
        accounts.accept(accounts.invite("Ada Example", PersonRole.CREW, None), "ada", _PASSWORD)
        app = make_app(Room(register, accounts, lambda: datetime.now(UTC), secure=False))
        listening = socket.socket()
        listening.bind(("127.0.0.1", 0))
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning", access_log=False))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            thread.join(0.01)
        yield f"http://127.0.0.1:{listening.getsockname()[1]}", f"/jobs/{job}"
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


def _ready_after(context: BrowserContext, path: str) -> tuple[float, float, int]:
    """From the tap until the job can be worked on [s], processor time of the page in it [s], and
    the bytes sent."""
    page = context.new_page()
    devtools = context.new_cdp_session(page)
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    devtools.send("Performance.enable", {"timeDomain": "threadTicks"})
    devtools.send("Network.enable")
    sent: list[float] = []
    devtools.on("Network.loadingFinished", lambda e: sent.append(e["encodedDataLength"]))
    page.goto(path, wait_until="commit")
    page.wait_for_selector("html[data-ready=job]")
    took = page.evaluate(_READY)
    told = devtools.send("Performance.getMetrics")["metrics"]
    worked = {m["name"]: float(m["value"]) for m in told}["TaskDuration"]
    page.wait_for_load_state("load")
    page.wait_for_timeout(200)
    page.close()
    return took / 1e3, worked, round(sum(sent))


def main() -> None:
    """Print the medians."""
    names = ("chromium-headless-shell", "chromium", "chromium-browser")
    chromium = next(filter(None, map(shutil.which, names)), None)
    if chromium is None:
        print("no chromium here: not measured")
        return
    how: dict[str, Any] = {
        "viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True,
    }  # fmt: skip
    with (
        tempfile.TemporaryDirectory() as folder,
        _served(Path(folder)) as (site, job),
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        views: dict[str, list[tuple[float, float, int]]] = {}
        for _ in range(RUNS):
            bare = browser.new_context(base_url=site, service_workers="block", **how)
            _sign_in(bare)
            bare.new_cdp_session(bare.new_page()).send("Network.clearBrowserCache")
            views.setdefault("first view, nothing on the phone", []).append(_ready_after(bare, job))
            bare.close()
            context = browser.new_context(base_url=site, **how)
            _sign_in(context)
            page = context.new_page()
            page.goto(job)
            page.wait_for_selector("html[data-kept=true]")
            page.close()
            views.setdefault("opened again with signal", []).append(_ready_after(context, job))
            context.set_offline(True)
            views.setdefault("opened again without signal", []).append(_ready_after(context, job))
            context.close()
        browser.close()
    print(f"processor {SLOWER} times slower, medians of {RUNS}; wanted below {WANTED} s")
    for name, seen in views.items():
        ready, worked, sent = (statistics.median(v) for v in zip(*seen, strict=True))
        print(f"{name:<36} ready {ready:5.2f} s   of it at work {worked:5.2f} s"
              f"   {sent / 1024:6.0f} KiB sent")  # fmt: skip


if __name__ == "__main__":
    main()
