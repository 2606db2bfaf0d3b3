"""Choose when: the age at which to renew a joint, and how often to look at it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.actions.writing import as_file, replace_folder
from splicewright.errors import Fault, InputError
from splicewright.history.when_study import WhenToLook, WhenToRenew

if TYPE_CHECKING:
    from datetime import datetime
    from uuid import UUID

    from splicewright.actions.from_register import UseName
    from splicewright.actions.plan_joint import PaperName
    from splicewright.history import Record
    from splicewright.history.lives import Array
    from splicewright.quantities import System
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
    planned, failure : costs, in one money
    lives : CSV file from whose joints the law of life is taken, with all its doubt
    shape, scale : or the law itself, scale with its unit

    Raises
    ------
    InputError
        Neither lives nor a law, or values that cannot be.
    """
    from splicewright.history import Weibull, load_lives, renew_at_age_if_costs_differ
    from splicewright.history.lives import read_use

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
    planned, failure : costs, in one money
    conveyor : the only one to look at; empty takes all
    use : what ages are counted in; empty chooses

    Raises
    ------
    InputError
        No joint that has run.
    """
    from splicewright.actions.from_register import lives_of_register, look_into

    looked = look_into(register, now, conveyor=conveyor, use=use)
    records = lives_of_register(looked, kinds=False).records
    if not records:
        raise InputError(Fault("joints", f"none of {looked.name} has run yet; nothing to go by"))
    notes = (*looked.assumed, *looked.left_out)
    return _renew_by(records, planned, failure, notes, looked.invented)


def _renew_by(
    records: Sequence[Record],
    planned: float,
    failure: float,
    notes: tuple[str, ...] = (),
    invented: bool = False,
) -> WhenToRenew:
    from splicewright.history import (
        fit_weibull,
        gather,
        laws_around,
        renew_at_age_if_costs_differ,
    )

    held = gather([r.life for r in records])
    try:
        fit = fit_weibull(held)
    except InputError as error:
        return WhenToRenew(None, held.measure, "", error.faults[0].sentence, notes, invented)
    known = f"{held.failures} failures of {held.number} joints, with the doubt about their law"
    rules = renew_at_age_if_costs_differ(laws_around(fit), planned, failure)
    return WhenToRenew(rules, held.measure, known, notes=notes, invented=invented)


def when_to_look(
    every: str,
    delay: str,
    look: float,
    repair: float,
    failure: float,
    *,
    fixed: bool = False,
    found: float = 1.0,
) -> WhenToLook:
    """Choose the interval between looks from how fast damage grows.

    Parameters
    ----------
    every : use from one new damage to the next, on average
    delay : use from the day it can be seen to the failure, on average
    look, repair, failure : costs of a look, of damage found in time, of a failure
    fixed : all delays are alike; otherwise they are random (exponential)
    found : chance that a look finds what is there [0..1]

    Raises
    ------
    InputError
        Values that cannot be, or counted in different measures.
    """
    from splicewright.history import (
        InspectionCosts,
        inspect_by_cost,
        missed_if_delay_is_fixed,
        missed_if_delay_is_random,
    )
    from splicewright.history.lives import read_use

    (between, measure), (grows, other) = read_use(every, "damage every"), read_use(delay, "delay")
    if measure is not other:
        said = f'"{delay}" counts {other}, but damage every "{every}" counts {measure}'
        raise InputError(Fault("delay", f"{said}; give both in one"))
    if fixed and found < 1:
        said = f"{found:g} goes with random delays only; with a fixed delay every look is sure"
        raise InputError(Fault("found", said))

    missed: Callable[[Array], Array] = (
        partial(missed_if_delay_is_fixed, grows)
        if fixed
        else partial(missed_if_delay_is_random, grows, found=found)
    )
    costs = InspectionCosts(look, repair, failure)
    rules = inspect_by_cost(1 / between, missed, costs, grows / 100, 20 * max(grows, between))
    return WhenToLook(rules, measure)


def write_when(
    renew: WhenToRenew | None,
    look: WhenToLook | None,
    costs: Sequence[tuple[str, float]],
    answer: object,
    out: Path,
    system: System,
    paper: PaperName,
    name: str = "",
) -> tuple[Path, ...]:
    """Write the report and the answer as JSON: all or nothing.

    Parameters
    ----------
    renew, look : what to write
    costs : name and amount of each cost that was stated
    answer : the same as plain data, for machines
    out : folder; made when missing, replaced when it holds an earlier report of this kind
    system, paper : as for a job pack
    name : of the conveyor or fleet

    Raises
    ------
    OutputError
        The folder holds other things, or cannot be written.
    """
    from splicewright.sheets.deciding_pages import when_report
    from splicewright.sheets.page import PAPERS

    sheet = PAPERS[paper]
    files = {
        "when.pdf": when_report(renew, look, costs, system, sheet, name=name),
        "when.json": as_file(answer),
    }
    return replace_folder(out, files, known="when.json")
