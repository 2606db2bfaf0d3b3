"""Folders are written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from splicewright.actions.folder import writing
from splicewright.actions.folder.writing import replace_folder, write_new
from splicewright.errors import OutputError

FILES = {"plan.json": b"{}", "crew-pack.pdf": b"pdf"}


def test_writes_all_files(tmp_path: Path) -> None:
    written = replace_folder(tmp_path / "a" / "b", FILES, "plan.json")
    assert [p.name for p in written] == list(FILES)
    assert all(p.read_bytes() == FILES[p.name] for p in written)


def test_replaces_an_earlier_folder_whole(tmp_path: Path) -> None:
    out = tmp_path / "out"
    replace_folder(out, {**FILES, "old.svg": b"x"}, "plan.json")
    replace_folder(out, FILES, "plan.json")
    assert sorted(p.name for p in out.iterdir()) == sorted(FILES)
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize("fails_at", [0, 1])
def test_a_full_disk_leaves_the_old_folder(
    fails_at: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    replace_folder(out, {"plan.json": b"old"}, "plan.json")
    count = iter(range(10))

    def full(path: Path, content: bytes) -> None:
        if next(count) == fails_at:
            raise OSError(28, "No space left on device")
        path.write_bytes(content)

    monkeypatch.setattr(writing, "_write", full)
    with pytest.raises(OutputError, match="No space left on device; nothing was changed"):
        replace_folder(out, FILES, "plan.json")
    assert (out / "plan.json").read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_failed_rename_puts_the_old_folder_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    replace_folder(out, {"plan.json": b"old"}, "plan.json")
    rename = Path.rename

    def broken(self: Path, target: Path) -> Path:
        if target == out and self.name.startswith(".out.") and self.name != "out":
            raise OSError(5, "Input/output error")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", broken)
    with pytest.raises(OutputError, match="nothing was changed"):
        replace_folder(out, FILES, "plan.json")
    assert (out / "plan.json").read_bytes() == b"old"


def test_a_file_in_the_way_is_named(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("x")
    with pytest.raises(OutputError, match=r"^out is a file; name a folder to write into$"):
        replace_folder(tmp_path / "out", FILES, "plan.json")


def test_new_file_never_overwrites(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    write_new(path, "one")
    with pytest.raises(OutputError, match="already there"):
        write_new(path, "two")
    assert path.read_text() == "one"
