"""Sentences with numbers in them, said in metric or inch when they are read."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.quantities.given import Figure
from splicewright.quantities.showing import show
from splicewright.quantities.units import Kind, System


@dataclass(frozen=True, slots=True)
class Sentence:
    """A text with {names} and the SI numbers that stand for them, by name, with their kinds.

    inch : another text for inch readers where a round number would not stay round; else ""
    """

    template: str
    numbers: tuple[tuple[str, float, Kind], ...] = ()
    inch: str = ""

    def say(self, system: System = "metric") -> str:
        """The sentence in one unit system."""
        text = self.inch if system == "inch" and self.inch else self.template
        for name, value, kind in self.numbers:
            # Not str.format: names of the user's own may hold braces.
            text = text.replace(f"{{{name}}}", show(value, kind, system))
        # A limit finer than the tool that reads it shows as "under 1 mm".
        return text.replace("at most under ", "under ")

    def __str__(self) -> str:
        return self.say()


def sentence(
    template: str, inch_text: str = "", /, **numbers: Figure | tuple[float, Kind]
) -> Sentence:
    """Make a sentence of a template and its figures (or SI numbers with their kind).

    `inch_text` stands in for the template for inch readers where it is given.
    """
    values = tuple(
        (name, n.value, n.kind) if isinstance(n, Figure) else (name, *n)
        for name, n in numbers.items()
    )
    return Sentence(template, values, inch_text)
