"""Choose the age at which to renew a joint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import Readable
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
    lives: Readable | None = None,
    shape: float | None = None,
    scale: str = "",
) -> WhenToRenew:
    """Choose the age of renewal by what a planned renewal and a failure cost.

    planned, failure : costs, in one currency
    lives : CSV file from whose joints the law of life is taken, with all its doubt
    shape, scale : or the law itself, scale with its unit; with lives the shape is assumed and the
        lives say the scale, for which one failure is enough
    Raises InputError: neither lives nor a law, or values that cannot be.
    """
    from splicewright.history.life.file import load_lives
    from splicewright.history.renewal import renew_at_age_if_costs_differ
    from splicewright.quantities.measure import read_use

    if lives is not None:
        records, invented = load_lives(lives)
        return _renew_by(records, planned, failure, invented=invented, shape=shape)
    if shape is None or not scale:
        wording = "is not known; give --lives, or --shape and --scale"
        raise InputError(Fault("law of life", wording))
    value, measure = read_use(scale, "scale")
    rules = renew_at_age_if_costs_differ(Weibull(shape, value), planned, failure)
    return WhenToRenew(
        rules,
        measure,
        f"the law given: shape {shape:g}, scale {scale}",
        planned=planned,
        failure=failure,
    )


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

    planned, failure : costs, in one currency
    conveyor : the only one to look at; empty takes all
    use : what ages are counted in; empty chooses
    Raises InputError: no joint that has run.
    """
    from splicewright.actions.life.from_register import lives_of_register
    from splicewright.actions.register.use import look_into

    looked = look_into(register, now, conveyor=conveyor, use=use)
    records = lives_of_register(looked, kinds=False).records
    if not records:
        raise InputError(Fault("joints", f"none of {looked.name} has run yet; there are no data"))
    notes = (*looked.assumed, *looked.left_out)
    answer = _renew_by(records, planned, failure, notes, looked.invented)
    return replace(answer, pace=looked.pace)


def _renew_by(
    records: Sequence[Record],
    planned: float,
    failure: float,
    notes: tuple[str, ...] = (),
    invented: bool = False,
    shape: float | None = None,
) -> WhenToRenew:
    from splicewright.history.life.few_failures import drawn_laws, weigh_scales
    from splicewright.history.life.lives import gather
    from splicewright.history.life.pooling import Prior
    from splicewright.history.renewal import renew_at_age_if_costs_differ, renewal_limits

    held = gather([r.life for r in records])
    causes = sorted({r.life.cause for r in records if r.life.failed and r.life.cause})
    if len(causes) > 1:
        notes = (*notes, f"failures of all causes count alike: {', '.join(causes)}")
    basis = f"{held.failures} failure{'s' if held.failures != 1 else ''} of {held.number} joints"
    known = f"{basis}, with the doubt about their law"
    belief = Prior()
    try:
        if shape is not None:
            laws = weigh_scales(held, shape)
            known = f"{known}; shape {shape:g} assumed"
        else:
            laws = drawn_laws(held, belief)
            notes = (*notes, belief.sentence)
    except InputError as error:
        return WhenToRenew(None, held.measure, "", error.faults[0].sentence, notes, invented)
    rules = renew_at_age_if_costs_differ(laws.mixture(), planned, failure)
    ages, savings = renewal_limits(laws, planned, failure, rules.stated.age)
    return WhenToRenew(
        rules,
        held.measure,
        known,
        "",
        notes,
        invented,
        ages,
        savings,
        planned,
        failure,
        (held.failures, held.number),
        belief if shape is None else None,
    )
