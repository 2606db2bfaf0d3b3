"""The worksheet: every number of a result with its formula, its inputs and their origin.

The calculation is written once, through `Worksheet.work`; the same run that gives the number
writes the line that explains it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.quantities.formulas import Formula
from splicewright.quantities.given import Figure, Given, Number
from splicewright.quantities.showing import show
from splicewright.quantities.sources import SOURCES
from splicewright.quantities.units import Kind, System


@dataclass(frozen=True, slots=True)
class Line:
    """How one figure came about: formula by id, printed text, and inputs by symbol and key."""

    figure: Figure
    formula: str
    text: str
    symbol: str
    inputs: tuple[tuple[str, str], ...]
    sources: tuple[str, ...]
    limits: str = ""


Entry = Line | Given


@dataclass(frozen=True, slots=True)
class Record:
    """A finished worksheet: frozen, serialisable, looked up by key."""

    entries: tuple[Entry, ...]

    def find(self, key: str) -> Entry:
        """The entry of `key`.

        Raises InputError: no such number; the message names the nearest keys.
        """
        for entry in self.entries:
            if key_of(entry) == key:
                return entry
        from difflib import get_close_matches

        words = key.lower().replace(".", " ").split()
        near = get_close_matches(key.lower(), list(self.keys()), 3, 0.7)
        near += [k for k in self.keys() if any(word in k.lower() for word in words)]
        near = list(dict.fromkeys(near))[:6]
        hint = ", ".join(near) if near else "run explain without a key to list all"
        raise InputError(Fault(key, f"no number of that name in this plan; near it: {hint}"))

    def keys(self) -> Iterator[str]:
        """All keys, in the order of work."""
        return (key_of(entry) for entry in self.entries)

    def below(self, key: str, levels: int | None = None) -> tuple[Entry, ...]:
        """The entry of `key` and everything it rests on, each once, result first.

        levels : so many steps down from the number [1]; None goes down to the inputs
        """
        self.find(key)
        return tuple(self._rests([key], levels).values())

    def under(self, *starts: str) -> Record:
        """The part whose keys begin so, with all it rests on, in the order of work."""
        own = [key for key in self.keys() if key.split(".")[0] in starts]
        kept = self._rests(own)
        return Record(tuple(entry for entry in self.entries if key_of(entry) in kept))

    def _rests(self, starts: list[str], levels: int | None = None) -> dict[str, Entry]:
        table = {key_of(entry): entry for entry in self.entries}
        seen: dict[str, Entry] = {}
        queue = [(key, 0) for key in starts]
        while queue:
            current, level = queue.pop(0)
            if current in seen or current not in table:
                continue
            entry = table[current]
            seen[current] = entry
            if isinstance(entry, Line) and (levels is None or level < levels):
                queue.extend((name, level + 1) for _, name in entry.inputs)
        return seen

    def assumptions(self) -> tuple[Given, ...]:
        """The inputs nobody gave, in the order they were used."""
        return tuple(e for e in self.entries if isinstance(e, Given) and e.assumed)


def joined(parts: Sequence[tuple[str, Record]]) -> Record:
    """Several worksheets as one; of more than one, its name stands in each key, second."""
    if len(parts) < 2:
        return Record(tuple(entry for _, record in parts for entry in record.entries))

    def called(key: str, name: str) -> str:
        first, dot, rest = key.partition(".")
        return f"{first}.{name}{dot}{rest}"

    entries: list[Entry] = []
    for number, (name, record) in enumerate(parts, 1):
        taken = name in {other for other, _ in parts[: number - 1]}
        own_name = f"{name}-{number}" if taken else name
        for entry in record.entries:
            if isinstance(entry, Line):
                figure = replace(entry.figure, key=called(entry.figure.key, own_name))
                own = set(record.keys())
                links = tuple((s, called(k, own_name) if k in own else k) for s, k in entry.inputs)
                entries.append(replace(entry, figure=figure, inputs=links))
            else:
                entries.append(replace(entry, key=called(entry.key, own_name)))
    return Record(tuple(entries))


class Worksheet:
    """Collects entries while a result is worked out."""

    def __init__(self, before: Record | None = None) -> None:
        """Begin empty, or go on where a finished worksheet ended."""
        entries = before.entries if before is not None else ()
        self._entries: dict[str, Entry] = {key_of(entry): entry for entry in entries}

    def note(self, given: Figure) -> Figure:
        """Write an input down (once) and hand back its plain figure for a result."""
        if not isinstance(given, Given):
            return given
        self._entries.setdefault(given.key, given)
        return Figure(given.key, given.label, given.value, given.kind)

    def get(self, key: str) -> Figure | None:
        """The figure already worked under `key`, or None."""
        entry = self._entries.get(key)
        return entry.figure if isinstance(entry, Line) else entry

    def work(
        self,
        key: str,
        label: str,
        formula: Formula[..., Any],
        kind: Kind | None = None,
        /,
        **inputs: Figure | Number,
    ) -> Figure:
        """Apply `formula` to the inputs' values and write the line.

        Inputs are figures or givens; a bare float is a constant of the method (a count, a
        sign) and is printed as such. `kind` is the result's where the formula holds for several:
        a use in hours, tonnes or turns alike.

        Raises TypeError: the inputs do not fit the formula's parameters.
        """
        values = {n: v.value if isinstance(v, Figure) else v for n, v in inputs.items()}
        result = Figure(key, label, _scalar(formula.function(**values)), kind or formula.kind)
        links = []
        for name, item in inputs.items():
            links.append((formula.symbols[name], self._link(item)))
        self._write(
            Line(
                result,
                formula.id,
                formula.text,
                formula.symbol,
                tuple(links),
                formula.source_texts,
                formula.limits,
            )
        )
        return result

    def total(
        self, key: str, label: str, parts: Sequence[Figure], kind: Kind | None = None
    ) -> Figure:
        """Add the parts, which must be of one kind unless `kind` says what the sum is."""
        value = sum((part.value for part in parts), 0.0)
        return self._combined(
            key, label, value, kind or parts[0].kind, "sum of the parts", "Σ", parts
        )

    def largest(self, key: str, label: str, parts: Sequence[Figure]) -> Figure:
        """The largest of the parts (the last of equals)."""
        value = parts[0].value
        for part in parts[1:]:
            value = np.maximum(value, part.value)
        return self._combined(
            key, label, _scalar(value), parts[0].kind, "largest of these", "max", parts
        )

    def smallest(self, key: str, label: str, parts: Sequence[Figure]) -> Figure:
        """The smallest of the parts."""
        value = parts[0].value
        for part in parts[1:]:
            value = np.minimum(value, part.value)
        return self._combined(
            key, label, _scalar(value), parts[0].kind, "smallest of these", "min", parts
        )

    def found(
        self,
        key: str,
        label: str,
        value: Number,
        kind: Kind,
        text: str,
        parts: Sequence[Figure],
        source: str = "arithmetic",
    ) -> Figure:
        """Write a figure that came from a search, a table or a mean, and what it rests on.

        key, label, kind : of the figure
        value : as found [SI]
        text : how it was found, printed in place of a formula
        parts : what it rests on
        source : id in the registry of sources
        """
        return self._combined(key, label, _scalar(value), kind, text, "found", parts, source)

    def finish(self) -> Record:
        """The worksheet as it stands, frozen."""
        return Record(tuple(self._entries.values()))

    def _combined(
        self,
        key: str,
        label: str,
        value: Any,
        kind: Kind,
        text: str,
        symbol: str,
        parts: Sequence[Figure],
        source: str = "arithmetic",
    ) -> Figure:
        result = Figure(key, label, value, kind)
        links = tuple((str(n), self._link(part)) for n, part in enumerate(parts, 1))
        self._write(
            Line(result, f"arithmetic.{symbol}", text, symbol, links, (str(SOURCES[source]),))
        )
        return result

    def _link(self, item: Figure | Number) -> str:
        if isinstance(item, Given):
            self._entries.setdefault(item.key, item)
            return item.key
        if isinstance(item, Figure):
            return item.key
        value = _scalar(item)
        return f"={value!r}" if np.ndim(value) == 0 else "=many"

    def _write(self, line: Line) -> None:
        key = line.figure.key
        if key in self._entries:
            msg = f"two numbers are called {key}"
            raise TypeError(msg)
        self._entries[key] = line


class Aside(Worksheet):
    """Works figures out as a worksheet does and keeps nothing: for what is only tried.

    It reads what the worksheet it stands beside holds.
    """

    def __init__(self, beside: Worksheet | None = None) -> None:
        super().__init__()
        if beside is not None:
            self._entries = beside._entries

    def note(self, given: Figure) -> Figure:
        """The plain figure of an input."""
        return Figure(given.key, given.label, given.value, given.kind)

    def work(
        self,
        key: str,
        label: str,
        formula: Formula[..., Any],
        kind: Kind | None = None,
        /,
        **inputs: Figure | Number,
    ) -> Figure:
        """The formula's value."""
        values = {n: v.value if isinstance(v, Figure) else v for n, v in inputs.items()}
        return Figure(key, label, _scalar(formula.function(**values)), kind or formula.kind)

    def _combined(
        self,
        key: str,
        label: str,
        value: Any,
        kind: Kind,
        text: str,
        symbol: str,
        parts: Sequence[Figure],
        source: str = "arithmetic",
    ) -> Figure:
        return Figure(key, label, value, kind)


def key_of(entry: Entry) -> str:
    """The key an entry is looked up by."""
    return entry.figure.key if isinstance(entry, Line) else entry.key


def explain(record: Record, key: str, system: System = "metric", levels: int | None = None) -> str:
    """Say in text how a number came about, down to the inputs.

    key : name of the number
    levels : so many steps down from the number [1]; None goes down to the inputs
    Raises InputError: no such number.
    """
    table = {key_of(entry): entry for entry in record.entries}
    blocks = []
    for entry in record.below(key, levels):
        if isinstance(entry, Given):
            span = ""
            if entry.low != entry.high:
                low, high = (show(v, entry.kind, system) for v in (entry.low, entry.high))
                span = f"; plausible {low} to {high}"
            reason = f": {entry.reason}" if entry.reason else ""
            story = f"[{entry.origin}{reason}{span}]"
            blocks.append(f"{entry.key}\n  {entry.label} = {entry.show(system)} {story}")
            continue
        lines = [f"{entry.figure.key}", f"  {entry.figure.label} = {entry.figure.show(system)}"]
        lines.append(f"  {entry.text}")
        for symbol, name in entry.inputs:
            if name.startswith("="):
                lines.append(f"    {symbol} = {name[1:]}")
                continue
            operand = table[name]
            figure = operand.figure if isinstance(operand, Line) else operand
            lines.append(f"    {symbol} = {figure.show(system)}  ({name}: {figure.label})")
        if entry.limits:
            lines.append(f"  holds: {entry.limits}")
        lines.extend(f"  source: {source}" for source in entry.sources)
        blocks.append("\n".join(lines))
    return "\n".join(blocks)


def _scalar(value: Any) -> Any:
    return value.item() if getattr(value, "shape", None) == () else value
