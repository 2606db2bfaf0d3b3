"""Texts that came in a request, as files for the loaders that read files."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path


@contextlib.contextmanager
def as_files(texts: Mapping[str, str | bytes]) -> Iterator[Path]:
    """A private folder that holds the texts under these names, which are ours; gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="splicewright-") as name:
        folder = Path(name)
        for path, text in texts.items():
            file = folder / path
            file.parent.mkdir(exist_ok=True)
            # What no UTF-8 can hold is told by the loader, which names the line.
            raw = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
            file.write_bytes(raw)
        yield folder
