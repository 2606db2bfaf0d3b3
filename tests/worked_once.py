"""What commands and pages work from the same inputs is worked once in a process.

Plans, plate loads, studies, packs and what is measured in photographs are pure and frozen: the
same inputs give the same, which has tests of its own (tests/job, tests/sheets, tests/photographs),
and those call the functions themselves. Everybody else reads, asks and writes as ever, and is given
what was worked before.
"""

from __future__ import annotations

import os
import pickle
import sys
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from hashlib import sha256
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from splicewright.job import JointLoads, JointPlan

MOST_SET = 200
"""PDFs that are kept."""


@contextmanager
def worked_once() -> Iterator[None]:
    """While it lasts, what asks `splicewright.job` and its like by name is given what is kept."""
    import typst

    from splicewright import job, tension
    from splicewright.sheets.crew_pack import files

    real = files.pack
    packs: dict[object, dict[str, bytes]] = {}

    def pack(plan: JointPlan, *options: object, **named: object) -> dict[str, bytes]:
        key = plan.to_json(), repr(options), repr(sorted(named.items()))
        if key not in packs:
            packs[key] = real(plan, *options, **named)  # type: ignore[arg-type]
        return dict(packs[key])

    real_loads = job.loads_of
    loads: dict[str, JointLoads] = {}

    def loads_of(plan: JointPlan) -> JointLoads:
        key = plan.to_json()
        if key not in loads or _same_is_tried():
            loads[key] = real_loads(plan)
        return loads[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(job, "plan", _kept(job.plan))
        patch.setattr(job, "loads_of", loads_of)
        patch.setattr(tension, "study", _kept(tension.study))
        patch.setattr(files, "pack", pack)
        patch.setattr(typst, "compile_with_warnings", _set_once(typst.compile_with_warnings))
        if measuring := sys.modules.get("splicewright.photographs.measuring"):  # loading it is dear
            patch.setattr(measuring, "measure_pictures", _by_content(measuring.measure_pictures))
        yield


def _same_is_tried() -> bool:
    """Whether a test has `same` in its name: it asks whether what is worked again is the same."""
    return "same" in os.environ.get("PYTEST_CURRENT_TEST", "")


def _set_once(real: Callable[..., Any]) -> Callable[..., Any]:
    """A PDF is set once from the same template, data and drawings, but where that is tried."""
    kept: OrderedDict[bytes, object] = OrderedDict()

    def once(files: dict[str, bytes], **how: Any) -> object:
        if _same_is_tried():
            return real(files, **how)
        told = pickle.dumps((sorted(files.items()), sorted(how["sys_inputs"].items())))
        key = sha256(told + repr((how["timestamp"], id(how["font_paths"]))).encode()).digest()
        if key not in kept:
            kept[key] = real(files, **how)
            if len(kept) > MOST_SET:
                kept.popitem(last=False)
        return kept[key]

    return once


def _by_content(real: Callable[..., Any]) -> Callable[..., Any]:
    """As `_kept`, of what holds arrays."""
    kept: dict[bytes, object] = {}

    def once(*given: object, **named: object) -> object:
        key = pickle.dumps((given, named))
        if key not in kept:
            kept[key] = real(*given, **named)
        return kept[key]

    return once


def _kept(real: Callable[..., Any]) -> Callable[..., Any]:
    kept: dict[object, object] = {}

    def once(*given: object, **named: object) -> object:
        key = given, tuple(sorted(named.items()))
        try:
            known = key in kept
        except TypeError:  # arrays: many variants at once
            return real(*given, **named)
        if not known:
            kept[key] = real(*given, **named)
        return kept[key]

    return once
