"""The documentation as one folder that opens from disk: no server, no network, searched offline.

`make docs-site` has the browser tests take the pictures first. A picture that none took, a link
that leads nowhere or a page that no door leads to fails the build.
"""

from __future__ import annotations

import argparse
import re
import shutil
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
SITE = ROOT / "examples" / "karst-hollow"


_LINK = re.compile(r"\]\(([^)#:]+)\.md(?:#[^)]*)?\)")
_SHOWN = re.compile(r"\]\(pictures/([^)]+)\.png\)")
_TOC = "\n```{{toctree}}\n:hidden:\n:caption: {caption}\n\n{pages}\n```\n"
_CSS = """
body { --font-stack: system-ui, sans-serif; }
article img[src$=".png"] { max-height: 34rem; max-width: 100%; border: 1px solid #999; }
article table td { vertical-align: top; }
article pre { white-space: pre-wrap; overflow-wrap: anywhere; }
article img[src$=".svg"] { width: 100%; max-width: 46rem; background: #fff; }
"""


def shown() -> set[str]:
    """Names of all pictures of pages that docs/ shows."""
    return {n for page in DOCS.glob("*.md") for n in _SHOWN.findall(page.read_text("utf-8"))}


def conveyor_of(job: str) -> Path:
    """The conveyor that a job of the example site is on: the first word of its name."""
    return SITE / "conveyors" / f"{job.partition('-')[0]}.toml"


def gather(source: Path, screenshots: Path, proof: Path) -> None:
    """Copy the pages, the pictures they show and the book into the folder that is built from."""
    shutil.copytree(DOCS, source, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    (source / "pictures").mkdir()
    for name in shown():
        taken = screenshots / f"{name}.png"
        if taken.is_file():  # one that is not fails the build, named with its page
            shutil.copy(taken, source / "pictures")
    lines = ["# The book of proof\n"]
    if (proof / "verification-book.html").is_file():
        (source / "proof").mkdir()
        for kind in ("html", "pdf"):
            shutil.copy(proof / f"verification-book.{kind}", source / "proof")
        lines += [
            "Made by the tests: {download}`as a page <proof/verification-book.html>`, "
            "{download}`to print <proof/verification-book.pdf>`.\n",
            "It says of every case what was worked, against what, how far apart they were and why "
            "that is near enough; which figures of a plan have a case behind them, and which "
            "none.\n",
        ]
    else:
        lines.append(
            "Not in this build: `make proof` makes it, then `make docs-site` puts it in.\n"
        )
    lines.append("What no case shows: [what has not been validated](measurement.md).\n")
    (source / "proof.md").write_text("\n".join(lines), "utf-8")


def gallery(source: Path, jobs: list[str]) -> None:
    """Plan every example job, and show its pack and what it asks for."""
    from pypdfium2 import PdfDocument

    from splicewright.actions.plan.plan import plan_joint
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.crew_pack.files import pack

    lines = [
        "# Example jobs and their packs\n",
        "Every kind of job, on an **invented** site: not for real work. Each pack was made by the "
        "command under it.\n",
    ]
    for job in jobs:
        file = SITE / "jobs" / f"{job}.toml"
        text = file.read_text("utf-8")
        told = text.partition("\n")[0].removeprefix("# Invented.").strip()
        work = tomllib.loads(text)["work"]
        plan = plan_joint(conveyor_of(job), file)
        out = source / "packs" / job
        out.mkdir(parents=True)
        for only in ("crew", "dossier"):
            for name, made in pack(plan, "metric", PAPERS["A4"], only=only).items():
                if name.endswith(".pdf"):
                    (out / name).write_bytes(made)
        page = PdfDocument(out / "crew-pack.pdf")[0].render(scale=1.2).to_pil()
        page.save(source / "packs" / f"page-{job}.png")
        files = " · ".join(
            f"{{download}}`{f.stem} <packs/{job}/{f.name}>`" for f in sorted(out.iterdir())
        )
        lines += [
            f"## {work.get('kind', 'job').capitalize()}: {job}\n", f"{told} {files}\n",
            f"    splicewright plan examples/karst-hollow/conveyors/{conveyor_of(job).name} "
            f"examples/karst-hollow/jobs/{job}.toml --out {job}\n",
            f"![Page one of the pack of {job}](packs/page-{job}.png)\n",
        ]  # fmt: skip
    (source / "gallery.md").write_text("\n".join(lines), "utf-8")


def with_doors(index: str) -> str:
    """The first page with a door in the side bar for each of its headings."""
    doors = ""
    for part in index.split("\n## ")[1:]:
        caption, _, rest = part.partition("\n")
        pages = dict.fromkeys(_LINK.findall(rest))
        if caption == "Learn":
            pages |= {"gallery": None}
        if caption.startswith("Understand"):
            pages = {"proof": None} | pages
        doors += _TOC.format(caption=caption, pages="\n".join(pages))
    said = "\n- [Example jobs and their packs](gallery.md)\n\n## Do"
    index = index.replace("\n\n## Do", said).replace(
        "- [What has not", "- [The book of proof](proof.md)\n- [What has not"
    )
    return index + doors


def build(source: Path, out: Path) -> int:
    """Make the pages; 0 when nothing was wrong."""
    from sphinx.application import Sphinx

    static = source / "_static"
    static.mkdir()
    (static / "splicewright.css").write_text(_CSS, "utf-8")
    how = {
        "project": "Splicewright",
        "extensions": ["myst_parser"],
        "html_theme": "furo",
        "html_title": "Splicewright",
        "html_static_path": ["_static"],
        "html_css_files": ["splicewright.css"],
        "html_copy_source": False,
        "html_show_sphinx": False,
        "html_show_copyright": False,
        "html_show_search_summary": False,  # a page from disk may not fetch the others
        "myst_heading_anchors": 4,
        "exclude_patterns": ["schema"],
        "language": "en",
        "highlight_language": "none",
    }
    site = Sphinx(
        str(source), None, str(out), str(source.with_name("docs-doctrees")), "html",
        confoverrides=how, freshenv=True, warningiserror=True, exception_on_warning=False,
    )  # fmt: skip
    site.build(force_all=True)
    return int(site.statuscode)


def main() -> None:
    """Build the site."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--out", type=Path, required=True)
    asked.add_argument("--screenshots", type=Path, required=True)
    asked.add_argument("--proof", type=Path, required=True)
    asked.add_argument("--jobs", nargs="*", help="only these example jobs in the gallery")
    given = asked.parse_args()
    source = given.out.with_name("docs-source")
    for folder in (source, given.out):
        shutil.rmtree(folder, ignore_errors=True)
    gather(source, given.screenshots, given.proof)
    jobs = (
        given.jobs if given.jobs is not None else sorted(p.stem for p in SITE.glob("jobs/*.toml"))
    )
    gallery(source, jobs)
    index = source / "index.md"
    index.write_text(with_doors(index.read_text("utf-8")), "utf-8")
    status = build(source, given.out)
    print(f"open {given.out / 'index.html'}")
    sys.exit(status)


if __name__ == "__main__":
    main()
