"""Commands that docs/ shows on a register are run as they stand, on the invented site's.

What runs until it is stopped, or needs a broker, has tests of its own; those lines are only read
(tests/test_docs_commands.py).
"""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from splicewright.cli import main
from splicewright.store import PersonRole
from splicewright.store.sql.register import open_register
from web.conftest import PASSWORD

DOCS = Path(__file__).parents[2] / "docs"
ELSEWHERE = {
    "splicewright serve": "tests/web/test_start.py",
    "splicewright listen": "tests/background",
    "splicewright register backups /mnt/backups --every": "tests/store",
    "splicewright register backups s3://": "tests/store",
    "splicewright register follow": "tests/store",
    "splicewright register restore NEWEST": "tests/store",
    "splicewright register partition": "tests/store/sql/test_partitioning.py",
    "splicewright register stamp": "tests/store",
    "splicewright register check-stamp": "tests/store",
}


def shown(page: str) -> list[str]:
    return re.findall(r"^    (splicewright .*)$", (DOCS / page).read_text("utf-8"), re.M)


def mapping() -> str:
    """The mapping as events.md shows it."""
    return "\n".join(
        re.findall(r"```toml\n(.*?)```", (DOCS / "events.md").read_text("utf-8"), re.S)
    )


@pytest.mark.parametrize("page", ["cli.md", "events.md", "joint-table.md", "register.md"])
def test_what_a_page_shows_on_a_register_runs(
    page: str, example_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy(example_file, tmp_path / "sites.sqlite")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SPLICEWRIGHT_REGISTER", str(tmp_path / "sites.sqlite"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    with open_register(tmp_path / "sites.sqlite", check=False) as register:
        head = register.head()
    (tmp_path / "mapping.toml").write_text(mapping(), "utf-8")
    _let_an_admin_in(tmp_path / "sites.sqlite")
    lines = [one for one in shown(page) if not one.startswith(tuple(ELSEWHERE))]
    for line in lines:
        # The witness on paper is that of one's own register.
        words = [w if ":" not in w or "/" in w else f"{head.seq}:{head.hash.hex()[:20]}" for w in
                 shlex.split(line)[1:]]  # fmt: skip
        done = CliRunner().invoke(main, words)
        assert done.exit_code == 0, f"{line}\n{done.output}"
    assert lines or page == "web.md"


def _let_an_admin_in(path: Path) -> None:
    """Somebody has to be there for what an admin does at the console."""
    with open_register(path, check=False) as register:
        accounts = register.accounts(hash_memory=8192)
        secret = accounts.invite("Ada Example", PersonRole.ADMIN, None)
        accounts.accept(secret, "ada", PASSWORD)
