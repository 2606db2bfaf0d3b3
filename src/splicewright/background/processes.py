"""Workers beside a served app: processes of their own, so that a page never waits for them."""

from __future__ import annotations

import contextlib
import logging
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

_LOG = logging.getLogger(__name__)
_AGAIN_AFTER = 1.0
_LONGEST_WAIT = 60.0


@contextlib.contextmanager
def workers_beside(where: str | Path, number: int = 1) -> Iterator[None]:
    """Keep workers running while the context lasts; one that ends is started again.

    They also end when this process is killed: their standard input is then closed.

    Parameters
    ----------
    where : file or URL of the register
    number : of workers; 0 for none
    """
    over = threading.Event()
    keepers = [threading.Thread(target=_keep, args=(str(where), over)) for _ in range(number)]
    for keeper in keepers:
        keeper.start()
    try:
        yield
    finally:
        over.set()
        for keeper in keepers:
            keeper.join()


def _keep(where: str, over: threading.Event) -> None:
    wait = _AGAIN_AFTER
    while not over.is_set():
        worker = _start(where)
        lived = 0.0
        while worker.poll() is None and not over.wait(0.2):
            lived += 0.2
        assert worker.stdin is not None
        worker.stdin.close()  # tells it to stop, after what it can finish at once
        try:
            worker.wait(timeout=10)
        except subprocess.TimeoutExpired:
            worker.kill()
            worker.wait()
        if over.is_set():
            return
        _LOG.warning("a worker ended (%s); it is started again", worker.returncode)
        wait = _AGAIN_AFTER if lived > _LONGEST_WAIT else min(2 * wait, _LONGEST_WAIT)
        over.wait(wait)


def _start(where: str) -> subprocess.Popen[bytes]:
    words = [sys.executable, "-m", "splicewright", "background", "--while-parent"]
    # Not as an argument: a URL may hold a password, and arguments are there for all to read.
    environment = {**os.environ, "SPLICEWRIGHT_REGISTER": where}
    return subprocess.Popen(words, stdin=subprocess.PIPE, env=environment)
