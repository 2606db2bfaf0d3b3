"""Choose the age at which to renew a joint."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.history.inspection_interval.study import WhenToRenew
from splicewright.history.life.weibull import Weibull

if TYPE_CHECKING:
    from datetime import datetime
    from uuid import UUID

    from splicewright.actions.register.use import UseName
    from splicewright.history.life.study import Record
    from splicewright.store import Register


def when_to_renew(
    planned: float,
    failure: float,
    *,
    lives: Path | None = None,
    shape: float | None = None,
    scale: str = "",
) -> WhenToRenew:
    """Choose the age of renewal by what a planned renewal and a failure cost.

    Parameters
    ----------
    planned, failure : costs, in one currency
    lives : CSV file from whose joints the law of life is taken, with all its doubt
    shape, scale : or the law itself, scale with its unit

    Raises
    ------
    InputError
        Neither lives nor a law, or values that cannot be.
    """
    from splicewright.history.life.file import load_lives
    from splicewright.history.renewal import renew_at_age_if_costs_differ
    from splicewright.quantities.measure import read_use

    if lives is not None:
        records, invented = load_lives(lives)
        return _renew_by(records, planned, failure, invented=invented)
    if shape is None or not scale:
        said = "is not known; give --lives, or --shape and --scale"
        raise InputError(Fault("law of life", said))
    value, measure = read_use(scale, "scale")
    rules = renew_at_age_if_costs_differ(Weibull(shape, value), planned, failure)
    return WhenToRenew(rules, measure, f"the law given: shape {shape:g}, scale {scale}")


def when_to_renew_recorded(
    register: Register,
    now: datetime,
    planned: float,
    failure: float,
    *,
    conveyor: str | UUID = "",
    use: UseName = "",
) -> WhenToRenew:
    """Choose the age of renewal for the joints in the register.

    Parameters
    ----------
    register, now : where to look, and what counts as now
    planned, failure : costs, in one currency
    conveyor : the only one to look at; empty takes all
    use : what ages are counted in; empty chooses

    Raises
    ------
    InputError
        No joint that has run.
    """
    from splicewright.actions.life.from_register import lives_of_register
    from splicewright.actions.register.use import look_into

    looked = look_into(register, now, conveyor=conveyor, use=use)
    records = lives_of_register(looked, kinds=False).records
    if not records:
        raise InputError(Fault("joints", f"none of {looked.name} has run yet; there are no data"))
    notes = (*looked.assumed, *looked.left_out)
    return _renew_by(records, planned, failure, notes, looked.invented)


def _renew_by(
    records: Sequence[Record],
    planned: float,
    failure: float,
    notes: tuple[str, ...] = (),
    invented: bool = False,
) -> WhenToRenew:
    from splicewright.history.life.lives import gather
    from splicewright.history.life.mixture import laws_around
    from splicewright.history.life.weibull import fit_weibull
    from splicewright.history.renewal import renew_at_age_if_costs_differ

    held = gather([r.life for r in records])
    try:
        fit = fit_weibull(held)
    except InputError as error:
        return WhenToRenew(None, held.measure, "", error.faults[0].sentence, notes, invented)
    known = f"{held.failures} failures of {held.number} joints, with the doubt about their law"
    rules = renew_at_age_if_costs_differ(laws_around(fit), planned, failure)
    return WhenToRenew(rules, held.measure, known, notes=notes, invented=invented)
