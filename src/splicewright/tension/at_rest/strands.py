"""The stopped loop of a conveyor as two strands that meet at a place of work."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.plant import Conveyor, Pulley, Run, Side
from splicewright.plant.assumptions import LEAST_FRICTION
from splicewright.quantities import Given
from splicewright.tension.at_rest.strand import Span, Strand, Unknown
from splicewright.tension.running.load_cases import LoadCase
from splicewright.tension.running.running import Running

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from splicewright.quantities import Number


@dataclass(frozen=True, slots=True)
class Loop:
    """The stopped loop, opened at its take-up: all pieces in the order of travel.

    whole: from behind the take-up round to it; runs: piece of every run by its name.
    """

    whole: Strand
    take_up: Strand
    runs: dict[str, int]

    def behind(self, run: str, along: Number) -> Strand:
        """From the take-up with the travel up to a place so far along a run [m]."""
        at = self.runs[run]
        return self.whole.part(0, at).then(self._some(at, along, rest=False))

    def ahead(self, run: str, along: Number) -> Strand:
        """From the take-up against the travel back to a place so far along a run [m]."""
        at = self.runs[run]
        count = len(self.whole.names)
        return self._some(at, along, rest=True).then(self.whole.part(at + 1, count)).turned()

    def round_from(self, run: str, along: Number) -> Strand:
        """The whole loop with the travel, from a place round to it again."""
        return self.ahead(run, along).turned().then(self.take_up).then(self.behind(run, along))

    def _some(self, at: int, along: Number, *, rest: bool) -> Strand:
        one = self.whole.part(at, at + 1)
        share = np.clip(np.asarray(along, dtype=np.float64) / one.length[..., 0], 0.0, 1.0)
        part = (1.0 - share if rest else share)[..., np.newaxis]
        return Strand(
            one.names,
            one.driven,
            one.length * part,
            one.climb * part,
            one.across * part,
            one.rolls,
            one.held,
            one.carries,
            one.turning,
            one.gripping,
        )


def loop_of(conveyor: Conveyor, forward: Sequence[Running]) -> Loop:
    """Lay out the stopped loop of a conveyor.

    Parameters
    ----------
    conveyor : the plant
    forward : its solved cases: scrapers and skirts hold the standing belt too
    """
    loop = list(conveyor.loop)
    start = next(n for n, e in enumerate(loop) if e.name == conveyor.take_up.pulley)
    order = [*loop[start + 1 :], *loop[:start]]
    full = next(r for r in forward if r.case is LoadCase.FULL)
    pressed = {f.run: np.abs(f.special.value) for f in full.forces if f.special is not None}
    return Loop(
        _strand(order, conveyor, pressed),
        _strand([loop[start]], conveyor, pressed),
        {e.name: n for n, e in enumerate(order) if isinstance(e, Run)},
    )


def _strand(
    elements: Sequence[Run | Pulley], conveyor: Conveyor, pressed: Mapping[str, Number]
) -> Strand:
    rows = [
        _run(e, pressed.get(e.name, 0.0)) if isinstance(e, Run) else _pulley(e, conveyor)
        for e in elements
    ]
    columns = (
        np.stack(np.broadcast_arrays(*column), axis=-1) for column in zip(*rows, strict=True)
    )
    return Strand(
        tuple(e.name for e in elements),
        tuple(isinstance(e, Pulley) and bool(e.drive) for e in elements),
        *(np.asarray(c, dtype=np.float64) for c in columns),
    )


def _run(run: Run, held: Number) -> tuple[Number, ...]:
    length, rise = run.length.value, run.rise.value
    across = np.sqrt(np.maximum(np.asarray(length) ** 2 - np.asarray(rise) ** 2, 0.0))
    rolls = Span.of(run.idlers.line_mass).high
    return length, rise, across, rolls, held, float(run.side is Side.CARRY), 1.0, 1.0


def _pulley(pulley: Pulley, conveyor: Conveyor) -> tuple[Number, ...]:
    turning = np.maximum(Span.of(pulley.loss).high, 1.0)
    gripping = turning
    if pulley.drive:
        mu = Span.of(conveyor.method.drum_friction).high
        gripping = np.maximum(turning, np.exp(mu * np.asarray(pulley.wrap.value)))
    return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, turning, gripping


def unknown_of(conveyor: Conveyor, load_left: Given) -> Unknown:
    """What is not known of a stopped belt, with its ends.

    Parameters
    ----------
    conveyor : the plant
    load_left : share of the full load on the belt; its high end is taken
    """
    belt, method = conveyor.belt, conveyor.method
    carry = sum(r.length.value for r in conveyor.runs() if r.side is Side.CARRY)
    modulus, width = Span.of(belt.modulus), belt.width.value
    return Unknown(
        Span.of(belt.line_mass),
        Span.of(conveyor.material.line_mass),
        Span.of(method.standing_friction),
        LEAST_FRICTION.low,
        Span.of(load_left).high * carry,
        Span(modulus.low * width, modulus.high * width),
    )


def end_of(given: Given, end: str) -> Given:
    """One end of an input as an input of its own, so that a sheet can name what was taken."""
    value = getattr(Span.of(given), end)
    if value is given.value or (np.ndim(value) == 0 and value == given.value):
        return given
    return Given(
        f"{given.key}.{end}",
        f"{given.label}, {end} end",
        value,
        given.kind,
        given.origin,
        given.reason,
        value,
        value,
    )
