"""What slip and sag want: the tension behind the drive that each limit asks for."""

from __future__ import annotations

import numpy as np

from splicewright.plant import Conveyor, Pulley, Run, slug
from splicewright.quantities import Figure, Given, Worksheet
from splicewright.tension.resistance import traction
from splicewright.tension.running.run_forces import CaseForces
from splicewright.tension.running.walk import Walked, acting_drives, datum_for

_HANGING = 0.7
"""A run that rises by more than this share of its length hangs and does not sag."""


def slip_limits(
    conveyor: Conveyor,
    forces: CaseForces,
    shares: dict[str, Figure],
    walked: tuple[Walked, ...],
    sheet: Worksheet,
) -> tuple[Figure, ...]:
    """Tension behind the last driven pulley at which no driven pulley slips, one for each [N].

    Where the load is shared by grip, the driven pulleys act as one with all their wrap.
    """
    method = conveyor.method
    driven = [w for w in walked if w.driven]
    all_act = len(acting_drives(conveyor, forces.case)) == len(conveyor.drives)
    if method.shared_by_grip and len(driven) > 1 and all_act:
        wraps = [w.element.wrap for w in driven if isinstance(w.element, Pulley)]
        wrap = sheet.get("loop.all_wrap") or sheet.total(
            "loop.all_wrap", "wrap of all driven pulleys", wraps
        )
        together = sheet.work(
            f"{forces.key}.slip",
            "tension behind the drive for grip",
            traction.slack_side_for_grip,
            margin=method.slip_margin,
            pull=forces.pull,
            friction=method.drum_friction,
            wrap=wrap,
        )
        return (together,)
    limits = []
    for w in driven:
        assert isinstance(w.element, Pulley)
        key = f"{forces.key}.{slug(w.element.name)}"
        wanted = sheet.work(
            f"{key}.slip",
            f"tension behind {w.element.name} for grip",
            traction.slack_side_for_grip,
            margin=method.slip_margin,
            pull=shares[w.element.name],
            friction=method.drum_friction,
            wrap=w.element.wrap,
        )
        if w is not walked[-1]:
            wanted = sheet.work(
                f"{key}.slip_datum",
                "the same, behind the last driven pulley",
                datum_for,
                tension=wanted,
                beta=w.beta_out,
                alpha=w.alpha_out,
            )
        limits.append(wanted)
    return tuple(limits)


def sag_limits(
    conveyor: Conveyor,
    forces: CaseForces,
    loads: dict[str, Given],
    walked: tuple[Walked, ...],
    sheet: Worksheet,
) -> tuple[Figure, ...]:
    """Tension behind the last driven pulley at which no run sags too far [N].

    The slacker end of a run decides; with arrays it may be one end here and the other there.
    """
    limits = []
    for w in walked:
        run = w.element
        if not isinstance(run, Run) or hangs(run):
            continue
        key = f"{forces.key}.{slug(run.name)}"
        wanted = sheet.work(
            f"{key}.sag",
            f"tension for the sag limit, {run.name}",
            traction.tension_for_sag,
            spacing=run.idlers.spacing,
            belt=conveyor.belt.line_mass,
            load=loads[run.name],
            sag=conveyor.method.sag_limit,
        )
        gain = np.asarray(value_of(w.beta_out)) - value_of(w.beta_in)
        ends = (
            ("start", w.alpha_in, w.beta_in, gain >= 0),
            ("end", w.alpha_out, w.beta_out, gain < 0),
        )
        for end, alpha, beta, slacker in ends:
            if np.any(slacker):
                limits.append(
                    sheet.work(
                        f"{key}.sag_datum.{end}",
                        f"behind the drive, for the {end} of {run.name}",
                        datum_for,
                        tension=wanted,
                        beta=beta,
                        alpha=alpha,
                    )
                )
    return tuple(limits)


def hangs(run: Run) -> bool:
    """Whether a run is so steep that it hangs and does not sag between idlers."""
    steep = np.abs(run.rise.value) > _HANGING * np.asarray(run.length.value)
    return bool(np.all(steep))


def value_of(item: Figure | float) -> float:
    """The number of a figure, or the number itself."""
    return item.value if isinstance(item, Figure) else item
