"""Which tests are cases of the verification book, and what each of them compared in this run.

A case is declared beside its test, `@proves(...)` or `pytestmark = proves(...)`. `make proof` sets
SPLICEWRIGHT_PROOF to a folder; then every comparison that a case makes (`pytest.approx`,
`numpy.testing.assert_allclose`, a bound in a plain `assert`) is written down as it is made: the
number that was computed, the number it was held against, the tolerance. The book has no second
copy of any of them. What was compared is traced to the formula or worksheet line that gave it, by
its value: that is the coverage matrix. Without the variable nothing here does anything.
"""

from __future__ import annotations

import ast
import inspect
import json
import math
import os
import re
import sys
from collections import defaultdict
from collections.abc import Callable, Generator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from splicewright.quantities import FORMULAS, Formula, Kind
from splicewright.quantities.units import POLICY
from splicewright.quantities.worksheet import Worksheet

FOLDER = os.environ.get("SPLICEWRIGHT_PROOF", "") and str(
    Path(os.environ["SPLICEWRIGHT_PROOF"]).resolve()
)
"""Where records go; set by `make proof`."""
KINDS = {
    "A": "published",
    "B": "independent code",
    "C": "hand derivation",
    "D": "own cross-check",
}
CHAPTERS = (
    "Tension of the running belt",
    "Loop and take-up",
    "The stopped belt",
    "Transition, trough and curves",
    "Plate loads",
    "Limits of making, and damage",
    "Choice, layout and marking",
    "Wear and life",
    "Stock, inspection and shutdown",
    "Drawings and units",
    "Photographs",
)
_TRIVIAL = {0.0, 1.0, -1.0}
"""Values that many formulas give: they trace nothing."""
_ELEMENTS = 64
"""Arrays up to this size are traced element by element."""


@dataclass(frozen=True, slots=True)
class Case:
    """One case of the book.

    Attributes
    ----------
    chapter, title : where it stands; the title is its name and no other case has it
    kind : of the reference, a key of `KINDS`
    problem : what is worked, in a sentence or two
    doubt : how far the reference itself is to be trusted
    tolerance : why the tolerance is what it is
    sketch : name of a drawing of tools/proof_sketches.py
    """

    chapter: str
    title: str
    kind: str
    problem: str
    doubt: str
    tolerance: str
    sketch: str


def proves(
    chapter: str, title: str, kind: str, problem: str, *, doubt: str, tolerance: str,
    sketch: str,
) -> pytest.MarkDecorator:  # fmt: skip
    """Declare the tests it stands on as one case of the book."""
    if chapter not in CHAPTERS or kind not in KINDS:
        msg = f"case {title}: chapter {chapter!r} or kind {kind!r} is not one of the book's"
        raise ValueError(msg)
    return pytest.mark.proof(Case(chapter, title, kind, problem, doubt, tolerance, sketch))


def case_of(item: pytest.Item) -> Case | None:
    """The case a test belongs to; the nearest declaration counts."""
    mark = item.get_closest_marker("proof")
    return mark.args[0] if mark else None


@dataclass
class Recorder:
    """What one test compared."""

    rows: list[dict[str, Any]] = field(default_factory=list)
    bounds: list[str] = field(default_factory=list)
    given_by: dict[float, set[str]] = field(default_factory=lambda: defaultdict(set))
    ran: set[str] = field(default_factory=set)
    direct: set[str] = field(default_factory=set)
    labels: dict[float, str] = field(default_factory=dict)
    symbols: dict[float, str] = field(default_factory=dict)
    """What a value is called, with its unit: by the worksheet, by the formula that gave it."""

    def compared(self, text: str, actual: float, expected: float, within: float) -> None:
        """Write one comparison; one statement in many examples keeps the count and the worst."""
        self.direct |= self.given_by.get(actual, set())
        off = abs(actual - expected)
        used = off / within if within else (0.0 if off == 0 else math.inf)
        row = {
            "text": text, "named": self.labels.get(actual) or self.symbols.get(actual, ""),
            "actual": actual,
            "expected": expected, "within": within, "used": used,
        }  # fmt: skip
        same = [r for r in self.rows if r["text"] == text]
        if len(same) < _ROWS_OF_ONE:
            self.rows.append(row | {"many": 1})
            return
        same[-1]["many"] += 1
        if used > same[-1]["used"]:
            same[-1].update(row)


_ROWS_OF_ONE = 8
"""So many rows come from one statement of one test; the last one is the worst of all the others."""


_now: list[Recorder] = []
"""The test that runs, if it belongs to a case."""
_approx = pytest.approx
_allclose = np.testing.assert_allclose


class _Seen:
    """What `pytest.approx` gives, which writes down what it is compared with."""

    __array_ufunc__ = None
    __array_priority__ = 1000
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, expected: Any, rel: Any, within: Any, nan_ok: bool) -> None:
        self.real = _approx(expected, rel=rel, abs=within, nan_ok=nan_ok)
        self.expected, self.rel, self.abs = expected, rel, within

    def __repr__(self) -> str:
        return repr(self.real)

    def __eq__(self, actual: object) -> bool:
        kept = bool(actual == self.real)
        if _now:
            text = _said_by(sys._getframe(1))
            for name, one, other in _pairs(actual, self.expected):
                within = _within(other, self.rel, self.abs)
                _now[-1].compared(text + name, one, other, within)
        return kept

    def __ne__(self, actual: object) -> bool:
        return bool(actual != self.real)


def _within(expected: float, rel: float | None, absolute: float | None) -> float:
    """The tolerance as pytest documents it: 1e-6 of the value and 1e-12 where nothing is said."""
    if rel is None and absolute is not None:
        return float(absolute)
    return max((1e-6 if rel is None else rel) * abs(expected), absolute or 1e-12)


def _pairs(actual: Any, expected: Any) -> list[tuple[str, float, float]]:
    if isinstance(actual, _Seen):  # a chain a == approx == b
        return []
    if isinstance(expected, Mapping):
        return [p for k in expected for p in _pairs(actual.get(k), expected[k])]
    one, other = np.asarray(actual, dtype=object), np.asarray(expected, dtype=object)
    if other.ndim == 0 and one.ndim == 0:
        try:
            return [("", float(actual), float(expected))]
        except (TypeError, ValueError):
            return []
    try:
        one, other = np.broadcast_arrays(one.astype(float), other.astype(float))
    except (TypeError, ValueError):
        return []
    return [
        (f"  [{n + 1}]" if one.size <= _ELEMENTS else "", float(a), float(b))
        for n, (a, b) in enumerate(zip(one.ravel(), other.ravel(), strict=True))
    ]


def _seen_allclose(
    actual: Any, desired: Any, rtol: float = 1e-7, atol: float = 0.0, **words: Any
) -> None:
    if _now:
        text = _said_by(sys._getframe(1))
        pairs = _pairs(actual, desired)
        if pairs:  # of an array the element that uses most of its tolerance
            worst = max(
                pairs, key=lambda p: abs(p[1] - p[2]) / ((atol + rtol * abs(p[2])) or 1e-300)
            )
            _now[-1].compared(text, worst[1], worst[2], atol + rtol * abs(worst[2]))
            for _, one, _ in pairs:
                _now[-1].direct |= _now[-1].given_by.get(one, set())
    _allclose(actual, desired, rtol=rtol, atol=atol, **words)


def noted(text: str, actual: float, expected: float, within: float) -> None:
    """Write down a comparison that no approx makes, such as a count of simulated belts."""
    if _now:
        _now[-1].compared(text, float(actual), float(expected), float(within))


@cache
def _statements(path: str) -> list[tuple[int, int, str]]:
    """First line, last line and what is compared, of every assert and allclose of a file."""
    found = []
    for node in ast.walk(ast.parse(Path(path).read_text("utf-8"))):
        if isinstance(node, ast.Assert) and isinstance(node.test, ast.Compare):
            sides = [ast.unparse(s) for s in (node.test.left, *node.test.comparators)]
            text = next((s for s in sides if "approx(" not in s), sides[0])
            found.append((node.lineno, node.end_lineno or node.lineno, text))
        elif isinstance(node, ast.Call) and ast.unparse(node.func).endswith("assert_allclose"):
            found.append((node.lineno, node.end_lineno or node.lineno, ast.unparse(node.args[0])))
    return found


def _said_by(frame: Any) -> str:
    path, line = frame.f_code.co_filename, frame.f_lineno
    if not Path(path).is_file():
        return "value"
    spans = [s for s in _statements(path) if s[0] <= line <= s[1]]
    return min(spans, key=lambda s: s[1] - s[0])[2] if spans else "value"


def _trace(key: str, value: Any, name: str, kind: Kind) -> None:
    if not _now:
        return
    _now[-1].ran.add(key)
    try:
        numbers = np.asarray(value, dtype=float).ravel()
    except (TypeError, ValueError):
        return
    if numbers.size <= _ELEMENTS:
        for number in numbers.tolist():
            if number not in _TRIVIAL and math.isfinite(number):
                _now[-1].given_by[number].add(key)
                if float(f"{number:.4g}") != number:  # a round number is of many things
                    names = _now[-1].labels if key.startswith("key:") else _now[-1].symbols
                    names.setdefault(number, f"{name} [{POLICY[kind].si or 1}]")


def _listen() -> None:
    """Have every formula and every line of a worksheet say what it gave."""
    for formula in FORMULAS.values():
        if not getattr(formula.function, "listened", False):
            formula.function = _listening(formula, formula.function)
    if not getattr(Worksheet._write, "listened", False):
        plain = Worksheet._write

        def write(self: Worksheet, line: Any) -> None:
            figure = line.figure
            _trace("key:" + figure.key, figure.value, figure.label, figure.kind)
            plain(self, line)

        write.listened = True  # type: ignore[attr-defined]
        Worksheet._write = write  # type: ignore[method-assign]


def _listening(formula: Formula[Any, Any], function: Callable[..., Any]) -> Callable[..., Any]:
    words = formula.id.rsplit(".", 1)[-1].replace("_", " ")

    def run(*args: Any, **kwargs: Any) -> Any:
        value = function(*args, **kwargs)
        _trace(formula.id, value, f"{words} {formula.symbol}", formula.kind)
        return value

    run.listened = True  # type: ignore[attr-defined]
    return run


@contextmanager
def recording(recorder: Recorder) -> Generator[None]:
    """Listen to everything a test compares."""
    _listen()
    _now.append(recorder)
    pytest.approx = _seen_approx
    np.testing.assert_allclose = _seen_allclose  # type: ignore[assignment]
    try:
        yield
    finally:
        _now.pop()
        pytest.approx = _approx
        np.testing.assert_allclose = _allclose


def _seen_approx(expected: Any, rel: Any = None, abs: Any = None, nan_ok: bool = False) -> Any:
    return _Seen(expected, rel, abs, nan_ok)


_NUMBER = r"-?(?:\d[\d.]*(?:e[-+]?\d+)?|np\.float64\([-\d.e+]+\))"
_BOUND = re.compile(rf"^{_NUMBER} (?:<|<=|>|>=|==) {_NUMBER}$")


class Proof:
    """The hooks; registered by tests/conftest.py where FOLDER is set."""

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Generator[None]:
        """Record what the test of a case compares."""
        if case_of(item) is None:
            return (yield)
        recorder = Recorder()
        item.stash[_RECORDER] = recorder
        with recording(recorder):
            return (yield)

    def pytest_assertion_pass(self, item: pytest.Item, lineno: int, orig: str, expl: str) -> None:
        """Keep bounds: an assertion that compares two numbers."""
        recorder = item.stash.get(_RECORDER, None)
        text = expl.split("\n", maxsplit=1)[0].strip()
        if recorder is None or "approx" in orig or not _BOUND.match(text):
            return
        if orig in item.path.read_text("utf-8"):  # not one of a library's own
            plain = re.sub(r"np\.float64\(([^)]*)\)", r"\1", text)
            text = f"{' '.join(orig.split())}: {plain}"
            if text not in recorder.bounds and len(recorder.bounds) < _ROWS_OF_ONE:
                recorder.bounds.append(text)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_makereport(
        self, item: pytest.Item, call: pytest.CallInfo[None]
    ) -> Generator[None, pytest.TestReport, pytest.TestReport]:
        """Write the record of the test, whatever became of it."""
        report = yield
        case = case_of(item)
        if case is None or (call.when != "call" and report.passed):
            return report
        recorder = item.stash.get(_RECORDER, Recorder())
        module, function = inspect.getmodule(item.obj), item.obj  # type: ignore[attr-defined]
        record = {
            "case": asdict(case),
            "test": item.nodeid,
            "passed": report.passed,
            "message": "" if report.passed else str(report.longrepr)[-1500:],
            "file_says": inspect.cleandoc(getattr(module, "__doc__", "") or ""),
            "test_says": inspect.cleandoc(function.__doc__ or ""),
            "rows": recorder.rows,
            "bounds": recorder.bounds,
            "direct": sorted(recorder.direct),
            "ran": sorted(recorder.ran),
        }
        with (Path(FOLDER) / f"{os.getpid()}.jsonl").open("a", encoding="utf-8") as out:
            out.write(json.dumps(record, ensure_ascii=False, default=str) + "\n")
        return report


_RECORDER = pytest.StashKey[Recorder]()
