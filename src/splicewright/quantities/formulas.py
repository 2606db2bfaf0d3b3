"""Formulas that carry their own text, symbols, unit and source.

A relation is written once: the decorated function is the code, and what the decorator says
is what the worksheet, the method pages and the tests print.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from functools import update_wrapper
from typing import Any, Generic, ParamSpec, TypeVar

from splicewright.quantities.sources import SOURCES, Source
from splicewright.quantities.units import Kind

P = ParamSpec("P")
R = TypeVar("R")


class Formula(Generic[P, R]):
    """One published or derived relation; call it as the plain function it is.

    id : "room.module.function", stable, used as key of the method pages
    text : the formula as printed
    symbol : symbol of what it gives
    kind : what it gives
    symbols : parameter name -> printed symbol
    sources, source_texts : where it was read, as records and as printed
    limits : where it holds, in one sentence; empty when it always does
    """

    def __init__(
        self,
        function: Callable[P, R],
        text: str,
        symbol: str,
        kind: Kind,
        symbols: Mapping[str, str],
        sources: tuple[str, ...],
        limits: str,
    ) -> None:
        module = function.__module__.removeprefix("splicewright.")
        self.id = f"{module}.{function.__name__}"
        self.text = text
        self.symbol = symbol
        self.kind = kind
        self.symbols = dict(symbols)
        self.sources: tuple[Source, ...] = tuple(SOURCES[name] for name in sources)
        self.source_texts = tuple(str(source) for source in self.sources)
        self.limits = limits
        self.function = function
        self.parameters = tuple(inspect.signature(function).parameters)
        missing = [name for name in self.parameters if name not in self.symbols]
        if missing or len(self.symbols) != len(self.parameters):
            msg = f"formula {self.id}: symbols and parameters differ ({missing})"
            raise TypeError(msg)
        update_wrapper(self, function)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        """Run the relation itself."""
        return self.function(*args, **kwargs)


FORMULAS: dict[str, Formula[Any, Any]] = {}
"""Every formula by its id, filled as the rooms are imported."""


def formula(
    text: str,
    *,
    gives: tuple[str, Kind],
    symbols: Mapping[str, str],
    source: str | tuple[str, ...],
    limits: str = "",
) -> Callable[[Callable[P, R]], Formula[P, R]]:
    """Register a function as the code of one formula.

    text : the formula as printed, with the symbols of `symbols`
    gives : symbol and kind of the result
    symbols : parameter name -> printed symbol, for every parameter
    source : id or ids in `sources.SOURCES`
    limits : where it holds
    Raises TypeError: parameters and symbols differ, or two formulas claim one id. Raises KeyError:
    a source is not in the registry.
    """

    def register(function: Callable[P, R]) -> Formula[P, R]:
        ids = (source,) if isinstance(source, str) else source
        entry = Formula(function, text, gives[0], gives[1], symbols, ids, limits)
        if entry.id in FORMULAS:
            msg = f"two formulas are called {entry.id}"
            raise TypeError(msg)
        FORMULAS[entry.id] = entry
        return entry

    return register
