"""The verification book from what the tests compared: HTML, PDF and the coverage matrix.

`make proof` runs the cases (tests/proof.py) and then this. A case that failed, or that is declared
and did not run, is a red page, and the command ends with an error.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import html
import importlib
import json
import pkgutil
import re
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT / "tools"), str(ROOT / "tests")]

from proof import CHAPTERS, KINDS  # noqa: E402
from proof_coverage import Figures, coverage, plans_of_the_examples  # noqa: E402
from proof_sketches import SKETCHES  # noqa: E402

_FORMULAS = 6
_SMALL = {"", "of", "for", "by", "from", "to", "at", "in", "with"}
_LINES = 40
"""Lines of a page for formulas and comparisons; what does not fit is counted, with the worst."""
_ROWS = 8
"""Comparisons printed of one test before every other test has its turn."""


@dataclass
class CasePage:
    """One case as the book shows it."""

    case: dict[str, str]
    passed: bool = True
    ran: bool = False
    groups: list[dict[str, Any]] = field(default_factory=list)
    left_out: str = ""
    says: list[str] = field(default_factory=list)
    formulas: list[dict[str, str]] = field(default_factory=list)
    tests: list[str] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)
    count: int = 0


def declared() -> dict[str, dict[str, str]]:
    """Every case that a test file declares, by title, whether it ran or not."""
    found: dict[str, dict[str, str]] = {}
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        text = path.read_text("utf-8")
        if "proves(" not in text:
            continue
        marks = [
            mark
            for node in ast.parse(text).body
            for mark in (
                node.decorator_list
                if isinstance(node, ast.FunctionDef)
                else [node.value]
                if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "pytestmark"
                else []
            )
        ]
        for node in marks:
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "proves":
                names = ("chapter", "title", "kind", "problem")
                case = {n: ast.literal_eval(a) for n, a in zip(names, node.args, strict=True)}
                case |= {k.arg or "": ast.literal_eval(k.value) for k in node.keywords}
                case["file"] = path.relative_to(ROOT).as_posix()
                if case["title"] in found:
                    sys.exit(f"two cases are called {case['title']!r}")
                found[case["title"]] = case
    return found


def records(folder: Path) -> list[dict[str, Any]]:
    """What the tests wrote, in the order of the files and tests."""
    found = [
        json.loads(line)
        for path in sorted(folder.glob("*.jsonl"))
        for line in path.read_text("utf-8").splitlines()
    ]
    return sorted(found, key=lambda r: str(r["test"]))


def sentence(test: str) -> str:
    """A test's name as the sentence it is."""
    name = test.rsplit("::", 1)[-1]
    name, _, of = name.partition("[")
    said = name.removeprefix("test_").replace("_", " ")
    return said[:1].upper() + said[1:] + (f"  ({of.removesuffix(']')})" if of else "")


def pages(written: Sequence[dict[str, Any]]) -> list[CasePage]:
    """The pages in the order of the book."""
    import splicewright
    from splicewright.quantities import FORMULAS

    for module in pkgutil.walk_packages(splicewright.__path__, "splicewright."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    by_title: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for record in written:
        by_title[record["case"]["title"]].append(record)
    made = []
    for title, case in declared().items():
        page = CasePage(case)
        ids: set[str] = set()
        mine = by_title.get(title, [])
        for record in mine:
            page.ran = True
            page.tests.append(record["test"])
            page.count += sum(row["many"] for row in record["rows"])
            ids |= {i for i in record["direct"] if i in FORMULAS}
            if not record["passed"]:
                page.passed = False
                page.failures.append(f"{record['test']}\n{record['message'][-900:]}")
        if mine:
            page.says = mine[0]["file_says"].split("\n\n")
            run = {i for record in mine for i in record["ran"] if i in FORMULAS}
            spoken = spoken_of(ROOT / mine[0]["test"].partition("::")[0], run - ids)
            page.formulas = [
                {"id": i, "text": FORMULAS[i].text, "source": "; ".join(FORMULAS[i].source_texts)}
                for i in [*sorted(ids), *spoken][:_FORMULAS]
            ]
        words = sum(len(s) for s in page.says[:3]) // 110
        page.groups, hidden = printed(mine, max(16, _LINES - 2 * len(page.formulas) - words))
        if hidden:
            many = sum(row["many"] for row in hidden)
            worst = max(row["used"] for row in hidden)
            page.left_out = (
                f"{many} further comparisons, the worst at {worst:.0%} of its tolerance."
            )
        page.passed = page.passed and page.ran and (page.count > 0 or bool(page.tests))
        made.append(page)
    return sorted(made, key=lambda p: CHAPTERS.index(p.case["chapter"]))


def printed(
    written: Sequence[dict[str, Any]], lines: int
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """What of a case is printed on so many lines, and what is only counted.

    Each test has its turn before its further examples do, so that a long one hides no other.
    """
    function = [r["test"].partition("[")[0] for r in written]
    turns = sorted(range(len(written)), key=lambda n: (function[n] in function[:n], n))
    groups: dict[int, dict[str, Any]] = {}
    hidden: list[dict[str, Any]] = []
    for n in turns:
        record = written[n]
        rows, bounds = record["rows"], [bound(b) for b in record["bounds"][:2]]
        doc = " ".join(record["test_says"].split("\n\n")[0].split())
        lines -= 1 + -(-len(doc) // 130) + len(bounds)
        room = min(max(lines, 0), _ROWS)
        if (rows or bounds) and lines >= min(len(rows), 1):
            groups[n] = {"title": sentence(record["test"]), "doc": doc, "bounds": bounds,
                         "rows": [numbers(row) for row in rows[:room]]}  # fmt: skip
            lines -= len(rows[:room])
            hidden += rows[room:]
        else:
            hidden += rows
    return [groups[n] for n in sorted(groups)], hidden


def spoken_of(path: Path, run: Iterable[str]) -> list[str]:
    """Of the formulas that ran, those whose words stand in the test, the nearest first."""
    words = set(re.findall(r"[a-z]+", path.read_text("utf-8")))

    def share(name: str) -> float:
        parts = [p for p in name.rsplit(".", 1)[-1].split("_") if p not in _SMALL]
        return sum(p in words for p in parts) / len(parts) if parts else 0.0

    return sorted((n for n in run if share(n) == 1), key=lambda n: (-len(n.rsplit(".", 1)[-1]), n))


def numbers(row: dict[str, Any]) -> dict[str, Any]:
    """A comparison as it is printed."""
    off = row["actual"] - row["expected"]
    many = f"  (worst of {row['many']})" if row["many"] > 1 else ""
    return {
        "text": in_words(row["text"], row.get("named", "")) + many,
        "actual": f"{row['actual']:.7g}",
        "expected": f"{row['expected']:.7g}",
        "off": f"{off:+.1e}" if off else "0",
        "within": f"{row['within']:.1e}" if row["within"] else "0",
        "used": f"{row['used']:.0%}" if row["used"] < 1e3 else "over",
        "kept": row["used"] <= 1,
    }


def in_words(text: str, named: str) -> str:
    """What is compared: as the worksheet or formula calls it, or the test's own expression."""
    place = re.search(r"  \[\d+\]$", text)
    if named:
        return named + (place[0] if place else "")
    each = re.fullmatch(r"\[(\w+)\.([\w.]+) for \1 in ([\w.]+)\](.*)", text)
    if each:
        text = f"{each[2]} of {each[3]}{each[4]}"
    text = re.sub(r"^(?:float|int)\((.*)\)$", r"\1", text)
    text = re.sub(r"\b(?:np|math)\.(?=\w)|\.(?:value|tolist\(\))(?!\w)|\(\)", "", text)
    text = re.sub(r"(?<=\w)_(?=\w)", " ", text)
    return re.sub(r"(?<=[A-Za-z\])])\.(?=[A-Za-z])", " ", text)


def bound(text: str) -> str:
    """A bound as it was kept, its numbers to seven digits."""
    return re.sub(r"\d+\.\d{5,}(?:e[-+]?\d+)?", lambda n: f"{float(n[0]):.7g}", text)


def version() -> dict[str, str]:
    """Of what this is the proof: the digest of the code, and the commit where there is one."""
    from splicewright.version import __version__

    digest = hashlib.sha256()
    for path in sorted((ROOT / "src").rglob("*.py")):
        digest.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes())
    git = ["git", "-C", str(ROOT)]
    try:
        commit = subprocess.run(
            [*git, "rev-parse", "--short=12", "HEAD"], capture_output=True, text=True, check=True
        ).stdout.strip()
        changed = subprocess.run(
            [*git, "status", "--porcelain", "src", "tests"], capture_output=True, text=True,
            check=True,
        ).stdout.strip()  # fmt: skip
        commit += " and uncommitted changes" if changed else ""
    except (OSError, subprocess.CalledProcessError):
        commit = "none"
    return {"version": __version__, "digest": digest.hexdigest()[:16], "commit": commit}


def unvalidated() -> tuple[list[str], list[list[str]]]:
    """Paragraphs and table of docs/measurement.md up to its first heading below the title."""
    text = (ROOT / "docs" / "measurement.md").read_text("utf-8").split("\n## ")[0]
    blocks = [b for b in text.split("\n\n")[1:] if b.strip()]
    said = [re.sub(r"[*`]", "", " ".join(b.split())) for b in blocks if not b.startswith("|")]
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for block in blocks
        if block.startswith("|")
        for line in block.splitlines()
        if not line.startswith("| ---")
    ]
    return said, rows


def as_html(book: Sequence[CasePage], of: dict[str, str], figures: Figures) -> str:
    """The book as one page that needs no other file."""
    e = html.escape
    failed = [p for p in book if not p.passed]
    out = [
        '<!doctype html><html lang="en"><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Verification book</title><style>{_CSS}</style><main>",
        "<h1>Verification book</h1>",
        f"<p>Splicewright {e(of['version'])}, code {of['digest']}, commit "
        f"{e(of['commit'])}. "
        f"{len(book)} cases, {sum(p.count for p in book)} comparisons, "
        + (f"<strong class=bad>{len(failed)} failed</strong>" if failed else "none failed")
        + ".</p>",
        "<p>Made by the tests: every number below was compared in the run that made this page. "
        "Values are in SI units as the code holds them. The reference of each case has a kind: "
        + "; ".join(f"<b>{k}</b> {e(v)}" for k, v in KINDS.items()) + ".</p>",
        '<p><a href="#not-validated">What has not been validated against measurement</a> · '
        '<a href="#coverage">Figures of a plan and their cases</a></p>',
    ]  # fmt: skip
    for chapter in CHAPTERS:
        inside = [(n, p) for n, p in enumerate(book, 1) if p.case["chapter"] == chapter]
        out.append(f"<h2>{e(chapter)}</h2><ol class=list>")
        out += [
            f'<li value="{n}" class="{"" if p.passed else "bad"}"><a href="#case-{n}">'
            f"{e(p.case['title'])}</a> ({p.case['kind']}, {p.count})</li>"
            for n, p in inside
        ]
        out.append("</ol>")
    for number, page in enumerate(book, 1):
        out.append(_case_html(number, page, of))
    said, table = unvalidated()
    out.append(
        '<section id="not-validated"><h2>What has not been validated against measurement</h2>'
    )
    out += [f"<p>{e(p)}</p>" for p in said]
    out.append(_table(table[0], table[1:]))
    out.append("<p>A command compares your measurement with the prediction: "
               "<code>splicewright compare MEASURED SOURCE</code>; docs/measurement.md says how "
               "to contribute it.</p></section>")  # fmt: skip
    out.append(_coverage_html(figures))
    return "\n".join([*out, "</main></html>"])


def _case_html(number: int, page: CasePage, of: dict[str, str]) -> str:
    e, case = html.escape, page.case
    state = "" if page.passed else " failed"
    word = "" if page.passed else ("FAILED: " if page.ran else "DID NOT RUN: ")
    out = [f'<section class="case{state}" id="case-{number}">',
           f"<p class=chapter>{e(case['chapter'])}</p>",
        f"<h2>{number}. {word}{e(case['title'])}</h2>"]  # fmt: skip
    if case["sketch"]:
        out.append(f"<figure>{SKETCHES[case['sketch']]}</figure>")
    out.append(f"<h3>Problem</h3><p>{e(case['problem'])}</p>")
    out.append(f"<h3>Reference: {case['kind']}, {KINDS[case['kind']]}</h3>")
    out += [f"<p class=says>{e(' '.join(p.split()))}</p>" for p in page.says[:4]]
    out.append(f"<p><b>How far it is to be trusted:</b> {e(case['doubt'])}</p>")
    if page.formulas:
        out.append("<h3>Formulas behind it</h3><ul>")
        out += [f"<li><code>{e(f['text'])}</code><br><small>{e(f['id'])}; {e(f['source'])}</small>"
                for f in page.formulas]  # fmt: skip
        out.append("</ul>")
    out.append("<h3>Computed beside the reference</h3>")
    out.append(f"<p><b>Why this tolerance:</b> {e(case['tolerance'])}.</p>")
    names = sorted({t.partition("[")[0] for t in page.tests}) or [case["file"]]
    out.append(f"<p><small>Made by {'; '.join(e(n) for n in names[:4])}"
               f"{' and others of the file' if len(names) > 4 else ''}, code {of['digest']}."
               "</small></p>")  # fmt: skip
    for failure in page.failures:
        out.append(f"<pre class=bad>{e(failure)}</pre>")
    out.append(
        "<table><tr><th>compared<th>computed<th>reference<th>difference<th>tolerance<th>used"
    )
    for group in page.groups:
        doc = group["doc"]
        out.append(f"<tr><th colspan=6 class=said>{e(group['title'])}"
                   + (f"<br><small>{e(doc)}</small>" if doc else ""))  # fmt: skip
        for row in group["rows"]:
            bad = "" if row["kept"] else " class=bad"
            out.append(f"<tr{bad}><td><code>{e(row['text'])}</code>"
                       + "".join(f"<td>{row[k]}" for k in
                                 ("actual", "expected", "off", "within", "used")))  # fmt: skip
        out += [f"<tr><td colspan=6>bound kept: <code>{e(b)}</code>" for b in group["bounds"]]
    out.append("</table>")
    if page.left_out:
        out.append(f"<p>{page.left_out}</p>")
    out.append("</section>")
    return "\n".join(out)


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    e = html.escape
    lines = ["<table class=words><tr>" + "".join(f"<th>{e(h)}" for h in head)]
    lines += ["<tr>" + "".join(f"<td>{e(c)}" for c in row) for row in rows]
    return "\n".join([*lines, "</table>"])


def _coverage_html(figures: Figures) -> str:
    out = ['<section id="coverage"><h2>Figures of a plan and the cases behind them</h2>',
           f"<p>{html.escape(figures.summary)}</p>", "<h3>Without a case</h3>"]  # fmt: skip
    bare = [f for f in figures.rows if f.state == "none"]
    head = ("figure", "formula", "how many", "cases")
    out.append(_table(head, [(f.label, f.formula, str(f.count), "none") for f in bare]))
    out.append("<h3>With cases</h3>")
    rows = [(f.label, f.formula, str(f.count), f.cases) for f in figures.rows if f.state != "none"]
    out.append(_table(head, rows))
    return "\n".join([*out, "</section>"])


_CSS = """
:root{font:16px/1.45 system-ui,sans-serif;color:#111;background:#fff}
main{max-width:62rem;margin:0 auto;padding:1rem}
h1{font-size:2rem;margin:.5rem 0}h2{font-size:1.35rem;margin:1.2rem 0 .4rem}
h3{font-size:1rem;margin:1rem 0 .2rem}p{margin:.3rem 0;max-width:48rem}
section{border-top:2px solid #111;margin-top:2.5rem}
.chapter{color:#555;margin-top:.6rem}.says{color:#333}
figure{margin:.5rem 0}svg{width:min(100%,26rem);height:auto}
table{border-collapse:collapse;width:100%;font-size:.86rem;display:block;overflow-x:auto}
td,th{text-align:right;padding:.18rem .5rem;border-bottom:1px solid #ddd;vertical-align:top}
td:first-child,th:first-child,.words td,.words th{text-align:left}
.said{background:#f2f2f2;font-weight:600}.words td{min-width:8rem;overflow-wrap:anywhere}
code,small,p,li{overflow-wrap:anywhere}code{font-size:.84rem}pre{white-space:pre-wrap;overflow-wrap:anywhere}
.bad{color:#a40000}.failed{border:4px solid #c00;background:#fff0f0;padding:0 1rem}
.failed h2{color:#a40000}a{color:#0b4f8a}.list{columns:2 20rem;column-gap:3rem}
@media print{section{break-before:page}}
"""


def as_pdf(book: Sequence[CasePage], of: dict[str, str], figures: Figures) -> bytes:
    """The same as a tagged PDF."""
    from splicewright.sheets.canvas.pdf import render

    said, table = unvalidated()
    data = {
        "of": of,
        "kinds": KINDS,
        "chapters": [
            {"name": c, "cases": [{"number": n, "title": p.case["title"], "kind": p.case["kind"],
                                   "count": p.count, "passed": p.passed}
                                  for n, p in enumerate(book, 1) if p.case["chapter"] == c]}
            for c in CHAPTERS
        ],
        "cases": [
            p.case | {
                "number": n, "passed": p.passed, "ran": p.ran, "count": p.count,
                "groups": p.groups,
                "left_out": p.left_out, "says": [" ".join(s.split())[:700] for s in p.says[:3]],
                "formulas": p.formulas, "failures": [f[-700:] for f in p.failures[:2]],
                "tests": sorted({t.partition("[")[0] for t in p.tests})[:3] or [p.case["file"]],
                "others": len({t.partition("[")[0] for t in p.tests}) > 3,
                "kind_said": KINDS[p.case["kind"]],
            }
            for n, p in enumerate(book, 1)
        ],
        "unvalidated": said, "missing": table, "summary": figures.summary,
        "figures": [{"label": f.label, "formula": f.formula, "count": str(f.count),
                     "cases": f.cases, "bare": f.state == "none"} for f in figures.rows],
        "total": sum(p.count for p in book), "failed": sum(not p.passed for p in book),
    }  # fmt: skip
    template = (ROOT / "tools" / "proof_book.typ").read_text("utf-8")
    return render(template, data, SKETCHES, name="verification book")


def main() -> None:
    """Make the book from a folder of records."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("records", type=Path)
    asked.add_argument("--out", type=Path, required=True)
    given = asked.parse_args()
    written = records(given.records)
    book, of = pages(written), version()
    titles = {p.case["title"]: n for n, p in enumerate(book, 1)}
    figures = coverage(plans_of_the_examples(), written, titles)
    given.out.mkdir(parents=True, exist_ok=True)
    (given.out / "verification-book.html").write_text(as_html(book, of, figures), "utf-8")
    (given.out / "verification-book.pdf").write_bytes(as_pdf(book, of, figures))
    bare = sum(f.count for f in figures.rows if f.state == "none")
    print(f"{len(book)} cases, {sum(p.count for p in book)} comparisons; "
          f"{bare} of {sum(f.count for f in figures.rows)} figures of a plan without a case; "
          f"{given.out / 'verification-book.html'}")  # fmt: skip
    failed = [p for p in book if not p.passed]
    for page in failed:
        print(f"red: {page.case['title']}" + ("" if page.ran else " did not run"))
    sys.exit(bool(failed))


if __name__ == "__main__":
    main()
