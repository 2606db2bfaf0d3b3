"""Numbers with units: the one unit policy, reading and showing, and where a number came from."""

from splicewright.quantities.formulas import FORMULAS, Formula, formula
from splicewright.quantities.given import Figure, Given, Number, Origin, assumed, measured, stated
from splicewright.quantities.identity import identity
from splicewright.quantities.reading import read, read_range
from splicewright.quantities.sentences import Sentence, sentence
from splicewright.quantities.showing import as_wrench_sets, percent, show, show_fraction, show_time
from splicewright.quantities.sources import SOURCES, Mark
from splicewright.quantities.units import POLICY, STANDARD_GRAVITY, Kind, System
from splicewright.quantities.worksheet import (
    Aside,
    Line,
    Record,
    Worksheet,
    explain,
    joined,
    key_of,
)

__all__ = [
    "FORMULAS",
    "POLICY",
    "SOURCES",
    "STANDARD_GRAVITY",
    "Aside",
    "Figure",
    "Formula",
    "Given",
    "Kind",
    "Line",
    "Mark",
    "Number",
    "Origin",
    "Record",
    "Sentence",
    "System",
    "Worksheet",
    "as_wrench_sets",
    "assumed",
    "explain",
    "formula",
    "identity",
    "joined",
    "key_of",
    "measured",
    "percent",
    "read",
    "read_range",
    "sentence",
    "show",
    "show_fraction",
    "show_time",
    "stated",
]
