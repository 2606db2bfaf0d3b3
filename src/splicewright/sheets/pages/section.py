"""A section of a report: heading, words and a table; the same on paper and on the screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Section:
    """One part of a report: title, then drawings, a table, and points in words."""

    title: str
    points: tuple[str, ...] = ()
    drawings: tuple[str, ...] = ()
    head: tuple[str, ...] = ()
    table: tuple[tuple[str, ...], ...] = ()

    def lines(self) -> list[str]:
        """Table and points as plain text, columns lined up."""
        rows = [self.head, *self.table] if self.table else []
        wide = [max(len(row[k]) for row in rows) for k in range(len(self.head))] if rows else []
        lines = [
            "  ".join(
                cell.rjust(w) if k else cell.ljust(w)
                for k, (cell, w) in enumerate(zip(row, wide, strict=True))
            ).rstrip()
            for row in rows
        ]
        return [*lines, *self.points]


def as_sentence(words: str) -> str:
    """Words with a capital in front and a full stop behind."""
    return words[0].upper() + words[1:] + "."


def under_titles(sections: Sequence[Section]) -> list[str]:
    """Sections as lines: a blank line, the title, then what stands in it."""
    return [line for s in sections for line in ("", s.title, *(f"  {text}" for text in s.lines()))]
