"""Packs drawn on request, beside the pages, and kept until others need the room."""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures import TimeoutError as NotYetError
from dataclasses import dataclass
from time import monotonic
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.job import JointPlan
    from splicewright.quantities import System
    from splicewright.sheets.crew_pack.left_outside import LeftOutside

KEPT_BYTES = 64_000_000
"""All packs that are kept; the one asked for longest ago goes first."""
WAITING = 16
"""Packs that may wait to be drawn; more are turned away."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which pack: of which plan (its digest), read in which units, on which paper.

    left : values outside their limits that it prints; witness : of the register's chain
    """

    plan: str
    system: System
    paper: PaperName
    left: tuple[LeftOutside, ...] = ()
    witness: str = ""


@dataclass(frozen=True, slots=True)
class PackState:
    """A pack as it stands.

    files : by name, once it is drawn
    state : "drawing", "ready", "failed" or "full" when too many wait; why : of a failure
    seconds : since it was asked for; ahead : packs that are drawn before it
    """

    state: Literal["drawing", "ready", "failed", "full"]
    files: dict[str, bytes]
    seconds: float = 0.0
    ahead: int = 0
    why: str = ""


class PackShelf:
    """Draws packs one after another in a thread of its own, and keeps what was drawn."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._drawing: OrderedDict[Wanted, tuple[Future[dict[str, bytes]], float]] = OrderedDict()
        self._kept: OrderedDict[Wanted, dict[str, bytes]] = OrderedDict()
        self._hand = ThreadPoolExecutor(1, thread_name_prefix="packs")

    def ask(self, wanted: Wanted, plan: JointPlan, wait: float = 0.0) -> PackState:
        """The pack, drawn now when it is not there."""
        with self._lock:
            if wanted in self._kept:
                self._kept.move_to_end(wanted)
                return PackState("ready", self._kept[wanted])
            if wanted not in self._drawing:
                if len(self._drawing) >= WAITING:
                    return PackState("full", {})
                started = self._hand.submit(_draw, wanted, plan)
                self._drawing[wanted] = started, monotonic()
                self._hand.submit(self._keep, wanted, started)
            future, since = self._drawing[wanted]
            ahead = list(self._drawing).index(wanted)
        try:
            files = future.result(timeout=wait)
        except NotYetError:
            return PackState("drawing", {}, monotonic() - since, ahead)
        except Exception as error:
            # Whatever went wrong is told; asking again draws it anew.
            logging.getLogger(__name__).exception("pack of plan %s", wanted.plan)
            with self._lock:
                self._drawing.pop(wanted, None)
            return PackState("failed", {}, why=str(error))
        return PackState("ready", files)

    def _keep(self, wanted: Wanted, drawn: Future[dict[str, bytes]]) -> None:
        """Put a pack among the kept ones; a failure stays where the next question finds it."""
        if drawn.exception() is not None:
            return
        with self._lock:
            self._drawing.pop(wanted, None)
            self._kept[wanted] = drawn.result()
            while len(self._kept) > 1 and _bytes(self._kept) > KEPT_BYTES:
                self._kept.popitem(last=False)


def _draw(wanted: Wanted, plan: JointPlan) -> dict[str, bytes]:
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.crew_pack.files import pack

    return pack(plan, wanted.system, PAPERS[wanted.paper], wanted.left, witness=wanted.witness)


def _bytes(kept: OrderedDict[Wanted, dict[str, bytes]]) -> int:
    return sum(len(data) for files in kept.values() for data in files.values())
