"""Reading a file that a person made, with a limit on its size and a sentence for each refusal."""

from __future__ import annotations

from pathlib import Path

from splicewright.errors import Fault, InputError


def read_bytes(path: Path, largest: int, needed: str, advice: str) -> bytes:
    """Read a whole file.

    Parameters
    ----------
    largest : size above which it is refused [bytes]
    needed : what to give in place of a folder, "a CSV file"
    advice : what to do about a file that is too large; ends its sentence

    Raises
    ------
    InputError
        Missing, a folder, not readable or too large.
    """
    name = path.name
    try:
        with path.open("rb") as file:
            raw = file.read(largest + 1)
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


def as_text(raw: bytes, name: str, save_as: str = "UTF-8") -> str:
    """Decode UTF-8, with or without a byte order mark.

    Raises
    ------
    InputError
        Other bytes; names the first line that holds them.
    """
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        sentence = f"is not UTF-8 text; save it as {save_as}"
        raise InputError(Fault("", sentence, name, line)) from None
