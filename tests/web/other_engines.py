"""The story of a job without signal in Firefox ESR and in WebKit; run by `make test-deep` alone.

Chromium has it in job/test_offline.py. Without signal means here that nothing listens at the
server's address.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from fastapi import FastAPI

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import Account
from splicewright.store.sql.register import SqlRegister
from web.conftest import PASSWORD
from web.engines import Engine, firefox, until, webkit
from web.processes import free_port
from web.serving import served
from web.working import THICKNESS, said

Start = Callable[[Path], AbstractContextManager[Engine]]
_SIGN_IN = f"""(() => {{
  document.querySelector('input[name=login]').value = 'crew';
  document.querySelector('input[name=password]').value = '{PASSWORD}';
  document.querySelector('input[name=password]').form.requestSubmit();
}})()"""
_KEPT = "document.documentElement.dataset.kept === 'true'"
_READY = "document.documentElement.dataset.ready === 'job'"
_AT_WORK = """(async () =>
  (await navigator.serviceWorker.getRegistration())?.active?.state === "activated")()"""
"""The service worker answers from the next page on: WebKit was seen not to hand it this one."""
_SENT = "(async () => (await splicewright.outbox.db.outbox.count()) === 0)()"


def _tick(engine: Engine, line: int) -> None:
    before = engine.run("splicewright.outbox.db.meta.get('made:' + splicewright.outbox.account())")
    made = before["value"] if before else 0
    engine.run(
        f"""(() => {{
          const step = document.querySelector('#step-isolate');
          if (!step.open) step.querySelector('summary').click();
          step.querySelector('[data-line="{line}"]').click();
        }})()"""
    )
    until(engine, f"(async () => (await splicewright.outbox.known.count()) === {made + 1})()")


def _write(engine: Engine, what: str, typed: str) -> None:
    engine.run(
        f"""(() => {{
          const step = document.querySelector('#step-measure');
          if (!step.open) step.querySelector('summary').click();
          const input = step.querySelector('.box[data-what="{what}"][data-box="1"] input');
          input.value = '{typed}';
          input.dispatchEvent(new Event('input', {{ bubbles: true }}));
          input.dispatchEvent(new Event('change', {{ bubbles: true }}));
        }})()"""
    )


@pytest.mark.parametrize("start", [firefox, webkit], ids=["firefox", "webkit"])
def test_a_job_without_signal(
    start: Start, app: FastAPI, job: RecordedPlan, register: SqlRegister,
    people: dict[str, Account], tmp_path: Path,
) -> None:  # fmt: skip
    port = free_port()
    page = f"http://127.0.0.1:{port}/jobs/{job.job}"
    with start(tmp_path / "browser") as engine:
        with served(app, port) as site:
            engine.goto(f"{site}/sign-in")
            engine.run(_SIGN_IN)
            until(engine, "location.pathname === '/' && document.readyState === 'complete'")
            engine.goto(page)
            until(engine, _KEPT)
            until(engine, _AT_WORK)
            _tick(engine, 1)
            until(engine, _SENT)
        _tick(engine, 2)
        _write(engine, THICKNESS, "12.5")
        until(
            engine,
            "document.querySelector('.outbox-words').textContent.startsWith('2 entries wait')",
        )
        engine.goto(page)
        until(engine, _READY)
        until(engine, "document.querySelector('#copy').textContent.includes('copy on the phone')")
        _tick(engine, 3)
        box = f"""document.querySelector('.box[data-what="{THICKNESS}"][data-box="1"] input')"""
        until(engine, f"{box}?.value === '12.5'")
        assert said(register, job.job)[1:] == [("step ticked", "isolate")]
        with served(app, port):
            engine.run("splicewright.outbox.flush().then(() => true)")
            until(engine, _SENT)
            engine.goto(page)
            until(engine, _READY)
    # All of it, in the order of the phone, and once.
    assert said(register, job.job)[1:] == [
        ("step ticked", "isolate"), ("step ticked", "isolate"), ("value recorded", "12.5 mm"),
        ("step ticked", "isolate"),
    ]  # fmt: skip
