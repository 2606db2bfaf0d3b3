"""Which fastener, and why: every size of the range judged on every requirement."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from splicewright.joint.choice.candidates import (
    Candidate,
    Requirement,
    construction,
    material,
    pulleys,
    tensions,
    word,
)
from splicewright.joint.choice.step_joints import judge_steps
from splicewright.joint.fasteners.ranges import Range, Size
from splicewright.joint.layout import NoLayoutError, lay_plates
from splicewright.plant import Conveyor, JointKind, Work
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Sentence,
    Worksheet,
    formula,
    sentence,
    stated,
)
from splicewright.tension import Demand

_SPREAD = 0.0015
"""Belt thickness may differ by this much across an end before it is remarked on [m]; assumption
of this tool, no source."""


@dataclass(frozen=True, slots=True)
class Choice:
    """The choice: all candidates best first, the recommended one, the runner-up, what turns it.

    recommended, runner_up : names of candidates, "" when none passes
    thinnest, thickest : belt end that they were judged for [m]
    """

    candidates: tuple[Candidate, ...]
    recommended: str
    runner_up: str
    reasons: tuple[Sentence, ...]
    turns: tuple[Sentence, ...]
    thinnest: Figure
    thickest: Figure

    @property
    def best(self) -> Candidate | None:
        """The recommended candidate, None when nothing passes."""
        return self.candidates[0] if self.recommended else None

    @property
    def nearest(self) -> Candidate | None:
        """The candidate that comes nearest, None without any range."""
        return self.candidates[0] if self.candidates else None


@formula(
    "t_k = k_S t",
    gives=("t_k", Kind.WIDTH_FORCE),
    symbols={"factor": "k_S", "tension": "t"},
    source="arithmetic",
)
def design_tension(factor: float, tension: float) -> float:
    """Tension per width the rating must reach: service factor [-] times running tension [N/m]."""
    return factor * tension


def choose(
    ranges: tuple[Range, ...], conveyor: Conveyor, work: Work, asked: Demand, sheet: Worksheet
) -> Choice:
    """Judge every size of every range and recommend one.

    Parameters
    ----------
    ranges : fastener data; may be empty
    conveyor, work : plant and job
    asked : what the machine demands
    sheet : takes the lines

    Returns
    -------
    Choice; among the sizes that meet everything the one with the largest smallest margin is
    recommended (assumption of this tool: the most even reserve).
    """
    wanted = sheet.work(
        "choice.tension",
        "running tension with service factor",
        design_tension,
        factor=work.service_factor,
        tension=asked.running,
    )
    thin, thick = belt_thickness(conveyor, work, sheet)
    candidates = [
        _judge(fastener, size, conveyor, work, asked, wanted, thin, thick)
        for fastener in ranges
        for size in fastener.sizes
    ]
    candidates += [
        judge_steps(fastener, steps, conveyor, work, asked, wanted, thick)
        for fastener in ranges
        for steps in fastener.steps
    ]
    candidates.sort(key=_order(work))
    passing = [c for c in candidates if c.passes and _may_be_recommended(c, work)]
    best = passing[0] if passing else None
    second = passing[1] if len(passing) > 1 else None
    return Choice(
        candidates=tuple(candidates),
        recommended=best.name if best else "",
        runner_up=second.name if second else "",
        reasons=(*_reasons(best, candidates, wanted, thin, thick), *_beside(candidates, work))
        if work.job.plated
        else (sentence("No joint is made: the belt stays in one piece."),),
        turns=_turns(best, passing, candidates, wanted)
        if work.job.plated
        else (sentence("More found than is stated here: stop, and plan again."),),
        thinnest=thin,
        thickest=thick,
    )


def _may_be_recommended(candidate: Candidate, work: Work) -> bool:
    """A vulcanised joint is recommended only where one is asked: the pack covers plates."""
    return candidate.construction.plated or work.kind is JointKind.VULCANISED


def _order(work: Work) -> Callable[[Candidate], tuple[bool, bool, int, float, float]]:
    """What passes first, plates before vulcanised, then by what is missed and the margin."""

    def place(candidate: Candidate) -> tuple[bool, bool, int, float, float]:
        joint = candidate.joint
        return (
            not candidate.passes,
            not _may_be_recommended(candidate, work),
            len(candidate.missed),
            -round(candidate.margin, 6),
            joint.pitch if isinstance(joint, Size) else joint.step_length,
        )

    return place


def belt_thickness(conveyor: Conveyor, work: Work, sheet: Worksheet) -> tuple[Figure, Figure]:
    """Thinnest and thickest place of the end: measured, else as the conveyor file has it."""
    if work.thickness:
        places = [sheet.note(t) for t in work.thickness]
    else:
        places = [sheet.note(conveyor.belt.thickness)]
    return (
        sheet.smallest("belt.thinnest", "thinnest place of the belt end", places),
        sheet.largest("belt.thickest", "thickest place of the belt end", places),
    )


def belt_width(conveyor: Conveyor, work: Work) -> Given:
    """Belt width at the joint: measured there, else as the conveyor file has it."""
    return work.belt_width or conveyor.belt.width


def deepest_trough(conveyor: Conveyor) -> float:
    """Deepest trough the joint runs through [rad]."""
    return max(r.idlers.trough.value for r in conveyor.runs())


def curve_of(work: Work) -> Given | None:
    """Curve depth stated for this job, under the key the layout uses."""
    depth = work.curve_depth
    if depth is None:
        return None
    return stated(
        "layout.curve_depth",
        "curve depth of the end",
        depth.value,
        Kind.LENGTH,
        "stated for this job",
    )


def _judge(
    fastener: Range,
    size: Size,
    conveyor: Conveyor,
    work: Work,
    asked: Demand,
    wanted: Figure,
    thin: Figure,
    thick: Figure,
) -> Candidate:
    metal, suits = material(fastener, conveyor, work)
    requirements = [
        construction(fastener, work),
        _carcass(conveyor),
        _thickness(size, thin, thick),
        *pulleys(
            asked,
            [size.pulley_needed(p.wrap.value, p.running.value) for p in asked.passings],
            [p.running.value / size.rated_tension for p in asked.passings],
        ),
        *tensions(asked, wanted, size.rated_tension, size.starting_tension),
        _width(size, conveyor, work),
        suits,
        _scrapers(size, work),
    ]
    return Candidate(
        fastener.name,
        fastener.invented,
        fastener.construction,
        size,
        metal,
        tuple(requirements),
        fastener.words,
    )


def _carcass(conveyor: Conveyor) -> Requirement:
    carcass = conveyor.belt.carcass
    reason = (
        f"bolts and plates hold in the carcass ({carcass.value})"
        if carcass.textile
        else "bolted plates do not hold in steel cords: a vulcanised joint is needed"
    )
    return word("carcass", carcass.textile, reason)


def _thickness(size: Size, thin: Figure, thick: Figure) -> Requirement:
    low, high = size.thickness
    met = low <= thin.value + 1e-9 and thick.value <= high + 1e-9
    outside, bound = (thin, low) if thin.value < low else (thick, high)
    template = (
        "{thin} to {thick} lies in {low} to {high}"
        if met
        else "{outside} lies outside {low} to {high}"
    )
    if thick.value - thin.value > _SPREAD:
        template += "; the end differs by {spread} across"
    reason = sentence(
        template,
        thin=thin,
        thick=thick,
        outside=outside,
        low=(low, Kind.LENGTH),
        high=(high, Kind.LENGTH),
        spread=(thick.value - thin.value, Kind.LENGTH),
    )
    # Inside its window a size has no share of reserve to rank by: it fits.
    margin = None if met else -abs(outside.value / bound - 1)
    return Requirement("belt thickness", Kind.LENGTH, outside.value, bound, margin, met, reason)


def _width(size: Size, conveyor: Conveyor, work: Work) -> Requirement:
    try:
        layout = lay_plates(
            size,
            belt_width(conveyor, work),
            deepest_trough(conveyor),
            work.travel,
            Worksheet(),
            curve=curve_of(work),
            notch=work.notch_width,
        )
    except NoLayoutError as error:
        return word("belt width", False, error.sentence)
    reason = sentence(
        f"{layout.count} plates with a mean set-back of {{setback}}", setback=layout.setback
    )
    return word("belt width", True, reason)


def _scrapers(size: Size, work: Work) -> Requirement:
    if not work.scrapers:
        return word("scrapers", True, "no scrapers on this conveyor")
    words = (
        "stated to run under scrapers; stands {proud} proud unless the belt is skived"
        if size.scrapers
        else "not stated to run under scrapers; stands {proud} proud"
    )
    return word("scrapers", size.scrapers, sentence(words, proud=(size.proud_height, Kind.LENGTH)))


def _reasons(
    best: Candidate | None, candidates: list[Candidate], wanted: Figure, thin: Figure, thick: Figure
) -> tuple[Sentence, ...]:
    if not candidates:
        return (
            sentence(
                "No fastener range was given: demand, isolation and lengths are valid; the choice "
                "is open."
            ),
        )
    if best is None:
        return (sentence("No size in these ranges meets every requirement."),)
    same = math.isclose(thin.value, thick.value, abs_tol=1e-5)  # shown to a tenth of a millimetre
    span = "{thick}" if same else "{thin} to {thick}"
    ends = {"thick": thick} if same else {"thin": thin, "thick": thick}
    tight = min((r for r in best.requirements if r.margin is not None), key=lambda r: r.margin or 0)
    return (
        Sentence(
            f"It meets every requirement. Tightest: {tight.reason.template}.", tight.reason.numbers
        ),
        sentence(
            f"Belt {span} thick; running tension with service factor {{wanted}}.",
            **ends,
            wanted=wanted,
        ),
    )


def _beside(candidates: list[Candidate], work: Work) -> tuple[Sentence, ...]:
    """What the pack does not cover, said plainly."""
    if all(c.construction.plated for c in candidates):
        return ()
    if work.kind is JointKind.VULCANISED:
        return (
            sentence(
                "A pack for a vulcanised joint shows the step lines of both ends, press and "
                "heats. The maker's own splicing instructions apply."
            ),
        )
    candidate = next((c for c in candidates if c.passes and not c.construction.plated), None)
    if candidate is None:
        return ()
    return (
        sentence(
            f"{candidate.name} meets every requirement too, smallest margin {{margin}}; the whole "
            'pack covers plates only. Ask for kind = "vulcanised" to plan it.',
            margin=(candidate.margin, Kind.SHARE),
        ),
    )


def _turns(
    best: Candidate | None, passing: list[Candidate], candidates: list[Candidate], wanted: Figure
) -> tuple[Sentence, ...]:
    """What would change the answer, in plain words."""
    if best is None:
        return ()
    rated = next(r for r in best.requirements if r.name == "running tension").has or 0.0
    turns = [
        sentence(
            "A running tension above {rated} (now {wanted} with service factor) rules it out.",
            rated=(rated, Kind.WIDTH_FORCE),
            wanted=wanted,
        )
    ]
    if isinstance(best.joint, Size):
        low, high = best.joint.thickness
        turns.append(
            sentence(
                "A belt outside {low} to {high} anywhere across the end rules it out.",
                low=(low, Kind.LENGTH),
                high=(high, Kind.LENGTH),
            )
        )
    else:
        of = f"{best.joint.plies} {'ply' if best.joint.plies == 1 else 'plies'}"
        turns.append(sentence(f"A belt of other than {of} rules it out."))
    passed = [r for r in best.requirements if r.name.startswith("pulley: ")]
    if passed:
        tight = min(passed, key=lambda r: r.margin or 0.0)
        where = tight.name.removeprefix("pulley: ")
        turns.append(
            sentence(
                f"Below {{needed}} at the {where} (now {{has}}) it is ruled out.",
                needed=(tight.needed or 0.0, Kind.LENGTH),
                has=(tight.has or 0.0, Kind.LENGTH),
            )
        )
    if len(passing) > 1:
        turns.append(
            sentence(
                f"Runner-up: {passing[1].name}, smallest margin {{margin}}.",
                margin=(passing[1].margin, Kind.SHARE),
            )
        )
    else:
        near = next((c for c in candidates if not c.passes), None)
        if near is not None:
            misses = ", ".join(r.name for r in near.missed)
            turns.append(
                sentence(f"No runner-up passes; nearest is {near.name}, which misses {misses}.")
            )
    return tuple(turns)
