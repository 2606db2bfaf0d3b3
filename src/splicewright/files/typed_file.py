"""Reading a file that a person made, with a limit on its size and a sentence for each refusal."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path, PurePath

from splicewright.errors import Fault, InputError


@dataclass(frozen=True, slots=True)
class InMemory:
    """A file's content that was sent, or that the register keeps: loaders read it as a file.

    name : by which faults name it; its ending tells a loader what it is
    """

    name: str
    raw: bytes

    @property
    def stem(self) -> str:
        """Its name without the ending."""
        return PurePath(self.name).stem

    @property
    def suffix(self) -> str:
        """The ending of its name, with the dot."""
        return PurePath(self.name).suffix

    def read_bytes(self) -> bytes:
        """Its content."""
        return self.raw


Readable = Path | InMemory
"""What a loader reads."""


def sent_file(raw: bytes | str, name: str, otherwise: str = "") -> InMemory:
    """What somebody sent, under the name its sender gives it or another.

    name : only letters, digits and . _ - of its last part are taken
    """
    plain = "".join(c for c in PurePath(name).name if c.isalnum() or c in "._- ")[-80:].strip(". ")
    # What no UTF-8 can hold is told by the loader, which names the line.
    content = raw if isinstance(raw, bytes) else raw.encode("utf-8", "surrogatepass")
    return InMemory(plain or otherwise, content)


def read_bytes(path: Readable, largest: int, needed: str, advice: str) -> bytes:
    """Read a whole file.

    largest : size above which it is refused [bytes]
    needed : what to give in place of a folder, "a CSV file"
    advice : what to do about a file that is too large; ends its sentence
    Raises InputError: missing, a folder, not readable or too large.
    """
    name = path.name
    try:
        raw = path.raw if isinstance(path, InMemory) else _beginning(path, largest + 1)
    except FileNotFoundError:
        raise InputError(Fault("", f"there is no file {name}", name)) from None
    except IsADirectoryError:
        raise InputError(Fault("", f"{name} is a folder; {needed} is needed", name)) from None
    except OSError as error:
        raise InputError(Fault("", f"cannot be read: {error.strerror}", name)) from None
    if len(raw) > largest:
        most = f"{largest / 1e6:g} MB" if largest > 1_000_000 else f"{largest / 1e3:g} kB"
        raise InputError(Fault("", f"is larger than {most}; {advice}", name))
    return raw


def _beginning(path: Path, size: int) -> bytes:
    with path.open("rb") as file:
        return file.read(size)


def as_text(raw: bytes, name: str, save_as: str = "UTF-8") -> str:
    """Decode UTF-8, with or without a byte order mark.

    Raises InputError: other bytes; names the first line that holds them.
    """
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        sentence = f"is not UTF-8 text; save it as {save_as}"
        raise InputError(Fault("", sentence, name, line)) from None
