"""Threads and processes that tests start, none waited for without end.

What hangs then fails by name after `PATIENCE`; a thread that hangs does not keep its process alive.
"""

from __future__ import annotations

import subprocess
import threading
import time
from collections.abc import Callable

from depth import PATIENCE


def at_once(*calls: Callable[[], object]) -> None:
    """Each call in a thread of its own; the first error of any is raised here."""
    failures: list[BaseException] = []

    def run(call: Callable[[], object]) -> None:
        try:
            call()
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=run, args=(call,), daemon=True) for call in calls]
    for thread in threads:
        thread.start()
    end = time.monotonic() + PATIENCE
    for thread in threads:
        thread.join(max(0.0, end - time.monotonic()))
    assert not any(thread.is_alive() for thread in threads), "threads that never end"
    if failures:
        raise failures[0]


def output_of(process: subprocess.Popen[bytes]) -> tuple[bytes, bytes]:
    """The rest of what a process prints until it ends, and of its errors."""
    try:
        return process.communicate(timeout=PATIENCE)
    except subprocess.TimeoutExpired:
        process.kill()
        raise


def until(there: Callable[[], bool]) -> None:
    """Waits for what another thread does."""
    end = time.monotonic() + PATIENCE
    while not there():
        assert time.monotonic() < end, "never came"
        time.sleep(0.001)
