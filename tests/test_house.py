"""The house rules that a machine can hold."""

from __future__ import annotations

import importlib
import os
import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import pytest

import splicewright

ROOT = Path(__file__).parent.parent
SOURCE = ROOT / "src" / "splicewright"
TESTS = ROOT / "tests"
MODULES = sorted(SOURCE.rglob("*.py"))
ROOMS = sorted(
    name
    for _, name, is_package in pkgutil.walk_packages(splicewright.__path__, "splicewright.")
    if is_package and "migrations" not in name
)

SUBJECTS = {
    "at_rest",
    "background",
    "belt",
    "conveyor",
    "decision",
    "fasteners",
    "fleet",
    "hooks",
    "incoming",
    "inspection",
    "inspection_interval",
    "job",
    "joint",
    "life",
    "measurement",
    "notices",
    "people",
    "photographs",
    "plan",
    "planner",
    "register",
    "renewal",
    "shutdown",
    "squaring",
    "stock",
    "tension",
    "wear",
}
"""What people speak of; each has this one stem wherever a file is about it."""

LAYERS = {
    "history": {"arrays", "meter", "pace", "schemas"},
    "actions": {
        "example_site",
        "explain",
        "files",
        "folder",
        "outbox",
        "question",
    },
    "cli": {"answers", "copies", "explain", "files", "opening", "questions", "serve", "stamps"},
    "web": {
        "api",
        "app",
        "forecast",
        "home",
        "labels",
        "meanwhile",
        "routes",
        "search",
        "start",
        "static",
        "templates",
    },
    "sheets/reports": set(),
    "sheets/words": {"amounts", "dates"},
}
"""Layers that are cut by subject -> what in them is not of one subject."""

OTHER_WORDS = re.compile(
    r"errand|(^|_)(deciding|forecasts|inspecting|intervals|keeping|looks|planning|queue_pages"
    r"|registering|saying|shutting|story|studying|telling)$"
)
"""Words for a subject, or for nothing, that files were called by."""


def test_rooms_import_downwards_only() -> None:
    done = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def _in(layer: str) -> set[str]:
    return {
        path.stem
        for path in (SOURCE / layer).iterdir()
        if not path.name.startswith("_") and (path.is_dir() or path.suffix == ".py")
    }


@pytest.mark.parametrize("layer", sorted(LAYERS))
def test_a_layer_is_cut_by_subject(layer: str) -> None:
    others = _in(layer) - SUBJECTS - LAYERS[layer]
    assert not others, f"{layer} holds {sorted(others)}: no subject, nor named as a thing apart"
    gone = LAYERS[layer] - _in(layer)
    assert not gone, f"{layer} has no {sorted(gone)} any more"


def test_every_subject_stands_in_several_layers() -> None:
    stems = {path.stem for path in MODULES} | {p.parent.name for p in MODULES}
    assert not SUBJECTS - stems
    for subject in SUBJECTS:
        rooms = {
            path.relative_to(SOURCE).parts[0]
            for path in MODULES
            if subject in {path.stem, *path.relative_to(SOURCE).parts[:-1]}
        }
        assert len(rooms) > 1, f"{subject} stands in {sorted(rooms)} only"


def test_nothing_is_called_by_another_word() -> None:
    for path in [*MODULES, *TESTS.rglob("*.py"), *SOURCE.rglob("*.html")]:
        stem = path.stem.removeprefix("test_")
        if path.parent.name != "versions":  # a migration is never changed
            assert not OTHER_WORDS.search(stem), path.relative_to(ROOT)


def test_tests_lie_as_the_code_does() -> None:
    apart = {"outside", "simulation"}
    for path in TESTS.rglob("test_*.py"):
        folder = path.parent.relative_to(TESTS)
        assert folder.parts[:1] in {(a,) for a in apart} or (SOURCE / folder).is_dir(), path


def test_modules_stay_small() -> None:
    # About 400 lines is the habit; the formatter's one argument a line needs room above.
    long = [m for m in MODULES if len(m.read_text("utf-8").splitlines()) > 560]
    assert not long


def test_no_drawer_for_odds_and_ends() -> None:
    drawers = {"utils", "helpers", "manager", "base", "misc", "common"}
    assert not [m for m in MODULES if m.stem in drawers]


def test_doors_are_small_and_true() -> None:
    for room in ["splicewright", *ROOMS]:
        module = importlib.import_module(room)
        names = getattr(module, "__all__", [])
        assert len(names) == len(set(names)), room
        for name in names:
            assert hasattr(module, name), f"{room}.{name}"


def test_doors_show_what_is_asked_for() -> None:
    files = [*MODULES, *TESTS.rglob("*.py"), *(ROOT / "benchmarks").rglob("*.py")]
    texts = [p.read_text("utf-8") for p in [*files, ROOT / "docs" / "make.py"]]
    for room in ROOMS:
        names = set(getattr(importlib.import_module(room), "__all__", []))
        asked: set[str] = set()
        for text in texts:
            for found in re.findall(rf"from {room} import (\([^)]*\)|[^\n]*)", text):
                asked |= set(re.findall(r"\w+", found))
        assert names <= asked, f"nobody asks {room} for {sorted(names - asked)}"


def test_importing_is_cheap() -> None:
    code = "import splicewright, splicewright.cli, sys; print(*sorted(sys.modules))"
    # What counts covered lines would begin there too, and import its own.
    env = {name: word for name, word in os.environ.items() if not name.startswith("COVERAGE")}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT, env=env
    )
    loaded = set(done.stdout.split())
    heavy = {"numpy", "scipy", "pydantic", "typst", "ezdxf", "segno", "PIL", "tomllib"}
    assert not loaded & heavy


def test_help_loads_no_heavy_library() -> None:
    code = (
        "import sys\nfrom splicewright.cli import main\n"
        "try: main(['--help'])\nexcept SystemExit: pass\n"
        "print(*sorted(sys.modules), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert not set(done.stderr.split()) & {"numpy", "pydantic", "typst", "ezdxf"}


def test_the_tree_of_errors_is_drawn_whole() -> None:
    from splicewright import errors

    for module in MODULES:
        if module.name != "__main__.py" and "migrations" not in module.parts:
            importlib.import_module(
                ".".join(module.relative_to(SOURCE.parent).with_suffix("").parts).removesuffix(
                    ".__init__"
                )
            )

    def below(kind: type[Exception]) -> set[str]:
        return {kind.__name__}.union(*(below(k) for k in kind.__subclasses__()))

    drawn = set(re.findall(r"(\w+Error)\b", (errors.__doc__ or "").split("What a page")[0]))
    assert drawn == below(errors.SplicewrightError)


def test_a_share_is_written_in_one_way() -> None:
    """ "84 %", by the one place that shows shares: SI Brochure, 9th edition, 5.4.7, "a space
    separates the number and the symbol %" (from memory)."""
    odd = re.compile(r":\.?\d*%\}|\d%[ .,;)\"]")
    said = [p for p in SOURCE.rglob("*") if p.suffix in {".py", ".html"}]
    found = [
        f"{path.name}:{number}: {line.strip()}"
        for path in said
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if odd.search(line)
    ]
    assert not found, "\n".join(found)


def test_no_leftovers() -> None:
    words = re.compile(r"\bTODO\b|\bFIXME\b|NotImplementedError|pytest\.mark\.skip|xfail\(")
    for module in MODULES:
        assert not words.search(module.read_text("utf-8")), module


def test_pins_name_no_host() -> None:
    for pins in (ROOT / "requirements").glob("*.txt"):
        text = pins.read_text("utf-8")
        assert "://" not in text
        assert "--hash=sha256:" in text
