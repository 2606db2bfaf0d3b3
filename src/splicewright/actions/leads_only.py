"""What only leads and admins may record, on whatever way it comes: page, phone or program."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.actions.record_inspection import MAY_RUN, says_it_may_run
from splicewright.errors import Fault

if TYPE_CHECKING:
    from splicewright.store import Register, What

LIMITS = "limits of wear are for leads and admins to set or take back; ask them"
DEVIATIONS = "a deviation is for leads and admins to sign; ask them"


def leads_only(register: Register, what: What) -> Fault | None:
    """Why somebody who is no lead may not record this; None when they may.

    Parameters
    ----------
    register : a correction may name a fact that only a lead may set
    what : the fact's content, or a correction of one
    """
    from splicewright.store import Correction
    from splicewright.store.job_facts import DeviationSigned
    from splicewright.store.joint_facts import WearLimitSet

    if says_it_may_run(what):
        return Fault("what.can_run", MAY_RUN)
    said: list[What | None] = [what]
    if isinstance(what, Correction):
        corrected = register.fact(what.corrects)
        said = [what.instead, corrected.fact.what if corrected is not None else None]
    if any(isinstance(w, WearLimitSet) for w in said):
        return Fault("kind", LIMITS)
    if any(isinstance(w, DeviationSigned) for w in said):
        return Fault("kind", DEVIATIONS)
    return None
