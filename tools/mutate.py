"""How much the tests notice: one small fault at a time in physics, statistics and policy.

    python tools/mutate.py --count 60 --seed 7

Each fault changes one operator, comparison, `and`/`or`, `not` or number of the code, drawn evenly
from all of them by the seed. The tests nearest to it run first, then those of its room and of the
rooms that use it, until one fails; a fault that none notices survives and is printed. More than one
survivor in twelve is a failure of the suite (exit code 1). The code itself is never touched: the
fault stands in a copy. `--near` asks the nearest tests alone: quick, and what it lets through is
for a second look, not yet a survivor.

Each run is a fork of one process that has the libraries loaded, for loading them takes longer than
most tests; ours is loaded anew in each.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib
import os
import pkgutil
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "splicewright"
NEIGHBOURS = {
    "loop": ("loop", "outside", "tension"),
    "tension": ("tension", "outside", "simulation", "job", "sheets", "cli"),
    "joint": ("joint", "outside", "job", "actions", "sheets", "cli"),
    "job": ("job", "outside", "actions", "sheets", "cli", "web/job", "web/inspection"),
    "history": ("history", "outside", "actions", "sheets", "cli", "web"),
    "store/present": ("store", "actions", "background", "cli", "web"),
    "store/authority.py": ("store", "web"),
    "actions": ("actions", "cli", "background", "store", "web"),
}
"""Where faults are put, and whose tests would see them."""
ACCEPTED = 1 / 12
"""Survivors among the faults that a sound suite may leave."""
_PATIENCE = 1800.0
"""A run of tests that takes longer hangs on the fault: it is noticed [s]."""

_OPERATORS: dict[type[ast.AST], Any] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn,
    ast.NotIn: ast.In, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """One fault: the file, the line, and the expression before and after."""

    file: Path
    line: int
    before: str
    after: str
    code: str

    def __str__(self) -> str:
        return f"{self.file.relative_to(ROOT)}:{self.line}: {self.before}  ->  {self.after}"


def places(tree: ast.Module) -> Iterator[ast.expr]:
    """Expressions that can be changed; annotations and how a class or a `zip` is made are none."""
    waiting: list[ast.AST] = [tree]
    while waiting:
        node = waiting.pop()
        if _changed(node) is not None:
            assert isinstance(node, ast.expr)
            yield node
        for name, value in ast.iter_fields(node):
            if name in {"annotation", "returns", "type_params", "decorator_list"}:
                continue
            if isinstance(node, ast.keyword) and node.arg == "strict":
                continue
            parts = value if isinstance(value, list) else [value]
            waiting += [part for part in parts if isinstance(part, ast.AST)]


def _changed(node: ast.AST) -> ast.expr | None:
    """The expression with its fault; None where there is none to put."""
    new: ast.expr | None = None
    match node:
        case ast.BinOp(op=op) | ast.BoolOp(op=op) if type(op) in _OPERATORS:
            if _is_type_or_text(node):
                return None
            new = copy.copy(node)
            new.op = _OPERATORS[type(op)]()
        case ast.Compare(ops=[op, *rest]):
            new = copy.copy(node)
            new.ops = [_OPERATORS[type(op)](), *rest]
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            new = operand
        case ast.Constant(value=bool() as value):
            new = ast.Constant(not value)
        case ast.Constant(value=int() | float() as value):
            new = ast.Constant(value + 1 if isinstance(value, int) else value * 1.5 or 1.0)
    return new


def _is_type_or_text(node: ast.AST) -> bool:
    """Whether `a | b` is a type, or `a + b` joins texts: any run of the line notices those."""
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.BitOr):
        text = ast.unparse(node)
        return "None" in text or any(word[0].isupper() for word in text.split(" | "))
    return any(
        isinstance(part, ast.JoinedStr) or isinstance(getattr(part, "value", None), str)
        for part in ast.walk(node)
    )


def every_fault(file: Path) -> Iterator[Fault]:
    """All faults that can be put into a file."""
    text = file.read_text("utf-8")
    lines = text.splitlines(keepends=True)
    for node in places(ast.parse(text)):
        new = _changed(node)
        assert new is not None and node.end_lineno is not None
        start = _offset(lines, node.lineno, node.col_offset)
        end = _offset(lines, node.end_lineno, node.end_col_offset or 0)
        after = ast.unparse(new)
        code = text.encode()[:start] + f"({after})".encode() + text.encode()[end:]
        yield Fault(file, node.lineno, ast.unparse(node), after, code.decode())


def _offset(lines: list[str], line: int, column: int) -> int:
    """Bytes before a place."""
    return sum(len(text.encode()) for text in lines[: line - 1]) + column


def tests_of(file: Path) -> list[list[Path]]:
    """Tests that would see a fault in a file, nearest first."""
    inside = file.relative_to(SOURCE).as_posix()
    part = next(p for p in NEIGHBOURS if inside == p or inside.startswith(f"{p}/"))
    # The subject's own tests: files of its name, then the deepest folder of the same name.
    own = [ROOT / "tests" / inside.removesuffix(".py"), *(ROOT / "tests" / inside).parents]
    folder = next(p for p in own if p.is_dir())
    named = sorted((ROOT / "tests").rglob(f"test_{file.stem}.py"))
    rounds = [named] if named else []
    if folder != ROOT / "tests":
        rounds.append([folder])
    for name in NEIGHBOURS[part]:
        there = ROOT / "tests" / name
        if there.exists() and [there] not in rounds:
            rounds.append([there])
    return rounds


def load_libraries() -> None:
    """Load all that the code imports, so that forks need not."""
    sys.path.insert(0, str(SOURCE.parent))
    for module in pkgutil.walk_packages([str(SOURCE)], "splicewright."):
        if not module.name.endswith(("__main__", "migrations.env")):
            importlib.import_module(module.name)
    sys.path.remove(str(SOURCE.parent))


def noticed(fault: Fault, copied: Path, *, near: bool) -> str:
    """Which tests notice the fault; empty when none does.

    Parameters
    ----------
    near : whether only the nearest are asked: files of its name, else the deepest folder
    """
    put = copied / "splicewright" / fault.file.relative_to(SOURCE)
    sound = put.read_text("utf-8")
    put.write_text(fault.code, "utf-8")
    rounds = tests_of(fault.file)
    if near:
        rounds = rounds[:1]
    try:
        for tests in rounds:
            failed = _forked(tests, copied)
            if failed:
                return f"{tests[0].relative_to(ROOT)}{failed}"
        return ""
    finally:
        put.write_text(sound, "utf-8")


def _as_child(tests: list[Path], copied: Path) -> None:
    os.setsid()
    quiet = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(quiet, stream)
    os.environ |= {"PYTHONPATH": str(copied), "CI": "1"}
    for name in [n for n in sys.modules if n.partition(".")[0] == "splicewright"]:
        del sys.modules[name]
    sys.path.insert(0, str(copied))
    os.chdir(ROOT)
    words = ["-q", "-x", "-p", "no:cacheprovider", "--no-header",
             "-W", "ignore::pytest.PytestAssertRewriteWarning",  # a library is loaded already
             "-o", f"pythonpath={copied} {ROOT / 'tests'}", *map(str, tests)]  # fmt: skip
    os._exit(int(pytest.main(words)))


def _forked(tests: list[Path], copied: Path) -> str:
    """Run tests on the copy in a fork; what to say where they fail, empty where they pass."""
    child = os.fork()
    if not child:
        try:
            _as_child(tests, copied)
        finally:
            os._exit(1)
    until = time.monotonic() + _PATIENCE
    while time.monotonic() < until:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return " " * bool(status)
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return " (hangs)"


def main() -> int:
    """Draw, try, tell."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--count", type=int, default=60, help="faults to try")
    parser.add_argument("--seed", type=int, default=None, help="of the draw; new each time if none")
    parser.add_argument("--only", default="", help="a room, folder or file below src/splicewright")
    parser.add_argument("--near", action="store_true", help="ask the nearest tests alone")
    parser.add_argument("--list", action="store_true", help="print the faults, try none")
    asked = parser.parse_args()
    seed = asked.seed if asked.seed is not None else random.randrange(10_000)
    files = sorted(
        {f for part in NEIGHBOURS for f in [SOURCE / part, *(SOURCE / part).rglob("*.py")]
         if f.is_file() and f.relative_to(SOURCE).as_posix().startswith(asked.only)}
    )  # fmt: skip
    faults = [fault for file in files for fault in every_fault(file)]
    drawn = random.Random(seed).sample(faults, min(asked.count, len(faults)))
    print(f"seed {seed}: {len(drawn)} of {len(faults)} faults in {len(files)} files", flush=True)
    if asked.list:
        print(*drawn, sep="\n")
        return 0
    survivors = []
    load_libraries()
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(SOURCE, Path(folder) / "splicewright")
        for number, fault in enumerate(drawn, 1):
            begun = time.monotonic()
            by = noticed(fault, Path(folder), near=asked.near).strip()
            if not by:
                survivors.append(fault)
            took = f"{time.monotonic() - begun:.0f} s"
            print(f"{number}. {fault}: {by or 'SURVIVES'} ({took})", flush=True)
    print(f"{len(survivors)} of {len(drawn)} survive", *survivors, sep="\n  ")
    return int(len(survivors) > ACCEPTED * len(drawn))


if __name__ == "__main__":
    sys.exit(main())
