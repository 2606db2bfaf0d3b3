"""Files of TOML made to take long: each is refused in a sentence, in little time and memory."""

from __future__ import annotations

import tracemalloc

import pytest

from splicewright.errors import InputError
from splicewright.files.toml import LARGEST, load
from splicewright.files.typed_file import InMemory
from splicewright.plant.conveyor_file import ConveyorFile

_DEEP = ".".join(["a"] * 49_000)


@pytest.mark.parametrize(
    "text",
    [
        f"[{_DEEP}]\n", f"{_DEEP} = 1\n", f"x = {{{_DEEP} = 1}}\n", f"[[{_DEEP}]]",
        ".".join(['"a"'] * 30_000), ".".join(["'a b'"] * 30_000), " . ".join(["a"] * 30_000),
        "[ok]\nx = 1\n" + ".".join(["b"] * 33) + " = 1",
    ],
)  # fmt: skip
def test_a_key_of_many_parts_is_refused_before_it_is_read(text: str) -> None:
    """Time grew with the square of the parts: 45 s for 49,000 of them."""
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="has more than 32 parts; accepted are the keys"):
            load(InMemory("belt.toml", text.encode()), ConveyorFile)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    # Reading it would hold each beginning of the key: 49,000 squared, halved, 8 bytes each.
    assert peak < 10_000_000


def test_the_line_of_the_long_key_is_told() -> None:
    with pytest.raises(InputError) as refused:
        load(InMemory("belt.toml", f"[ok]\nx = 1\n\n[{_DEEP}]\n".encode()), ConveyorFile)
    assert refused.value.faults[0].line == 4


@pytest.mark.parametrize(
    "value",
    ['"a note ................................................ ends"', '"1.2.3.4, see page 5.6.7"',
     '"' + "word. " * 200 + '"'],
)  # fmt: skip
def test_dots_in_a_text_are_no_key(value: str) -> None:
    with pytest.raises(InputError) as refused:
        load(InMemory("belt.toml", f"note = {value}\n".encode()), ConveyorFile)
    assert "parts" not in str(refused.value)


@pytest.mark.parametrize(
    "text",
    [
        "[[run]]\n" * 20_000, "x = [" + "{a = 1}," * 20_000 + "]", "x = " + "[" * 400_000,
        '"' * 400_000, "a" * 400_000, "x = " + "9" * 400_000, ("a" + " " * 500) * 800,
    ],
)  # fmt: skip
def test_other_large_files_are_refused_in_few_words(text: str) -> None:
    assert len(text) < LARGEST
    with pytest.raises(InputError) as refused:
        load(InMemory("belt.toml", text.encode()), ConveyorFile)
    assert len(refused.value.faults) <= 101 and len(str(refused.value)) < 20_000


def test_what_was_sent_is_held_to_the_size_of_a_file() -> None:
    with pytest.raises(InputError, match="is larger than 1000 kB; a file of this kind is a few kB"):
        load(InMemory("belt.toml", b"#" * (LARGEST + 1)), ConveyorFile)
