"""The loop walked once from behind the last driven pulley: T = alpha X + beta at every station."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.plant import Conveyor, Drive, Element, Pulley, Run, slug
from splicewright.quantities import Figure, Kind, Worksheet, formula
from splicewright.tension.resistance import traction
from splicewright.tension.running.load_cases import LoadCase, share_of_acting
from splicewright.tension.running.run_forces import CaseForces


@formula(
    "T = α X + β",
    gives=("T", Kind.FORCE),
    symbols={"alpha": "α", "datum": "X", "beta": "β"},
    source="statics",
)
def at_station(alpha: float, datum: float, beta: float) -> float:
    """Tension at a station from the tension behind the drive.

    Parameters
    ----------
    alpha : product of the pulleys' tension factors on the way [-]
    datum : tension leaving the last driven pulley [N]
    beta : sum of what was added on the way [N]

    Returns
    -------
    float [N]
    """
    return alpha * datum + beta


@formula(
    "X = (T - β)/α",
    gives=("X", Kind.FORCE),
    symbols={"tension": "T", "beta": "β", "alpha": "α"},
    source="statics",
)
def datum_for(tension: float, beta: float, alpha: float) -> float:
    """Tension behind the drive that gives a wanted tension at a station [N]."""
    return (tension - beta) / alpha


@formula(
    "β = β_0 ± F",
    gives=("β", Kind.FORCE),
    symbols={"before": "β_0", "sign": "±", "force": "F"},
    source="statics",
    limits="plus for the forces of a run, minus for the pull of a driven pulley",
)
def added_on_the_way(before: float, sign: float, force: float) -> float:
    """Sum of forces from behind the drive up to the end of one element.

    Parameters
    ----------
    before : the sum before it [N]
    sign : 1 where the force adds to the tension, -1 where a drive takes it off [-]
    force : of the element [N]

    Returns
    -------
    float [N]
    """
    return before + sign * force


@formula(
    "α = k α_0",
    gives=("α", Kind.RATIO),
    symbols={"loss": "k", "before": "α_0"},
    source="pulley-factor",
)
def factors_on_the_way(loss: float, before: float) -> float:
    """Product of the tension factors of the undriven pulleys passed so far [-]."""
    return loss * before


@formula(
    "F_i = k_i F / n_i",
    gives=("F_i", Kind.FORCE),
    symbols={"share": "k_i", "pull": "F", "pulleys": "n_i"},
    source="arithmetic",
)
def pull_of_pulley(share: float, pull: float, pulleys: float) -> float:
    """Pull one driven pulley gives: its drive's share over the pulleys it turns [N]."""
    return share * pull / pulleys


@dataclass(frozen=True, slots=True)
class Walked:
    """alpha and beta entering and leaving one element; at_end: part of its force that stands at
    its very end and not along it [N]."""

    element: Element
    alpha_in: Figure | float
    beta_in: Figure | float
    alpha_out: Figure | float
    beta_out: Figure | float
    at_end: float = 0.0

    @property
    def driven(self) -> bool:
        """Whether it is a driven pulley."""
        return isinstance(self.element, Pulley) and bool(self.element.drive)


def acting_drives(conveyor: Conveyor, case: LoadCase) -> tuple[Drive, ...]:
    """The drives that pull or hold in a case: only those with a brake brake the belt, only
    those with a holdback hold it."""
    fitted = {
        LoadCase.BRAKING: [d for d in conveyor.drives if d.brake],
        LoadCase.HOLDING: [d for d in conveyor.drives if d.holdback],
    }
    return tuple(fitted.get(case) or conveyor.drives)


def drive_shares(conveyor: Conveyor, forces: CaseForces, sheet: Worksheet) -> dict[str, Figure]:
    """The pull of every driven pulley by its name [N]."""
    acting = acting_drives(conveyor, forces.case)
    shares: dict[str, Figure | float] = {d.name: d.share for d in acting}
    if len(acting) < len(conveyor.drives):
        together = sheet.total(
            f"{forces.key}.acting", "shares of the drives that act", [d.share for d in acting]
        )
        for n, d in enumerate(acting, 1):
            shares[d.name] = sheet.work(
                f"{forces.key}.acting.{n}",
                f"share of {d.name} among those that act",
                share_of_acting,
                share=d.share,
                acting=together,
            )
    pulls = {}
    for pulley in conveyor.pulleys():
        if not pulley.drive:
            continue
        count = sum(1 for p in conveyor.pulleys() if p.drive == pulley.drive)
        pulls[pulley.name] = sheet.work(
            f"{forces.key}.{slug(pulley.name)}.pull",
            f"pull given at {pulley.name}",
            pull_of_pulley,
            share=shares.get(pulley.drive, 0.0),
            pull=forces.pull,
            pulleys=float(count),
        )
    return pulls


def walk(
    conveyor: Conveyor, forces: CaseForces, shares: dict[str, Figure], sheet: Worksheet
) -> tuple[Walked, ...]:
    """Walk the loop from behind the last driven pulley back to it.

    Parameters
    ----------
    conveyor : in the direction of travel
    forces : of the case
    shares : pull of each driven pulley [N]
    sheet : takes the lines
    """
    loop = conveyor.loop
    last = max(n for n, e in enumerate(loop) if isinstance(e, Pulley) and e.drive)
    added = {f.run: f.total for f in forces.runs}
    # Stuck load pulls where the load leaves the belt; what speeds a run up lies along it.
    blocked = forces.case is LoadCase.BLOCKED
    ends = {f.run: f.surplus.value for f in forces.runs if blocked and f.surplus is not None}
    alpha: Figure | float = 1.0
    beta: Figure | float = 0.0
    walked = []
    for element in (*loop[last + 1 :], *loop[: last + 1]):
        before = alpha, beta
        name, key = element.name, f"{forces.key}.{slug(element.name)}"
        if isinstance(element, Run) or element.drive:
            drives = isinstance(element, Pulley)
            beta = sheet.work(
                f"{key}.beta",
                f"forces up to the end of {name}",
                added_on_the_way,
                before=beta,
                sign=-1.0 if drives else 1.0,
                force=shares[name] if drives else added[name],
            )
        elif np.any(np.asarray(element.loss.value) != 1.0):
            alpha = sheet.work(
                f"{key}.alpha",
                f"tension factors up to {name}",
                factors_on_the_way,
                loss=element.loss,
                before=alpha,
            )
            beta = sheet.work(
                f"{key}.beta",
                f"forces up to {name}",
                traction.times,
                factor=element.loss,
                pull=beta,
            )
        walked.append(Walked(element, *before, alpha, beta, ends.get(name, 0.0)))
    return tuple(walked)
