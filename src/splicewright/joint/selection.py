"""Which fastener, and why: every size of the range judged on every requirement."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.joint.layout import NoLayoutError, lay_plates
from splicewright.joint.ranges import Construction, Range, Size
from splicewright.plant import Conveyor, JointKind, Work
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Sentence,
    Worksheet,
    formula,
    sentence,
    show,
    stated,
)
from splicewright.quantities.units import System
from splicewright.tension import Demand

_SPREAD = 0.0015
"""Belt thickness may differ by this much across an end before it is remarked on [m]; assumption
of this tool, no source."""


@dataclass(frozen=True, slots=True)
class Requirement:
    """One requirement judged: what is needed, what the size has, margin, verdict, reason.

    needed, has : numbers [SI] of `kind`, None where the requirement is not a number
    margin : share left over, has/needed - 1 or the like; None where there is none
    """

    name: str
    kind: Kind
    needed: float | None
    has: float | None
    margin: float | None
    met: bool
    reason: Sentence

    def show_needed(self, system: System = "metric") -> str:
        """What is needed, as text; "" where it is not a number."""
        return "" if self.needed is None else show(self.needed, self.kind, system)

    def show_has(self, system: System = "metric") -> str:
        """What the size has, as text; "" where it is not a number."""
        return "" if self.has is None else show(self.has, self.kind, system)


@dataclass(frozen=True, slots=True)
class Candidate:
    """One size of one range with all its requirements."""

    range_name: str
    invented: bool
    construction: Construction
    size: Size
    material: str
    requirements: tuple[Requirement, ...]

    @property
    def name(self) -> str:
        """Range and size."""
        return f"{self.range_name}, {self.size.name}"

    @property
    def passes(self) -> bool:
        """Whether every requirement is met."""
        return all(r.met for r in self.requirements)

    @property
    def missed(self) -> tuple[Requirement, ...]:
        """The requirements that are not met."""
        return tuple(r for r in self.requirements if not r.met)

    @property
    def margin(self) -> float:
        """The smallest margin of all requirements that have one; negative when one is missed."""
        return min(r.margin for r in self.requirements if r.margin is not None)


@dataclass(frozen=True, slots=True)
class Choice:
    """The choice: all candidates best first, the recommended one, the runner-up, what turns it.

    recommended, runner_up : names of candidates, "" when none passes
    """

    candidates: tuple[Candidate, ...]
    recommended: str
    runner_up: str
    reasons: tuple[Sentence, ...]
    turns: tuple[Sentence, ...]

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
    wanted = sheet.work("choice.tension", "running tension with service factor", design_tension,
                        factor=work.service_factor, tension=asked.running)  # fmt: skip
    thin, thick = belt_thickness(conveyor, work, sheet)
    candidates = [
        _judge(fastener, size, conveyor, work, asked, wanted, thin, thick)
        for fastener in ranges
        for size in fastener.sizes
    ]
    candidates.sort(key=lambda c: (len(c.missed), -round(c.margin, 6), c.size.pitch))
    passing = [c for c in candidates if c.passes]
    best = passing[0] if passing else None
    second = passing[1] if len(passing) > 1 else None
    return Choice(
        candidates=tuple(candidates),
        recommended=best.name if best else "",
        runner_up=second.name if second else "",
        reasons=_reasons(best, candidates, wanted, thin, thick),
        turns=_turns(best, passing, candidates, wanted),
    )


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
    return stated("layout.curve_depth", "curve depth of the end", depth.value, Kind.LENGTH,
                  "stated for this job")  # fmt: skip


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
    material, suits = _material(fastener, conveyor, work)
    found = [
        _construction(fastener, work),
        _carcass(conveyor),
        _thickness(size, thin, thick),
        *_pulleys(size, asked),
        _running(size, wanted),
        _starting(size, asked),
        _width(size, conveyor, work),
        suits,
        _scrapers(size, work),
    ]
    return Candidate(
        fastener.name, fastener.invented, fastener.construction, size, material, tuple(found)
    )


def _word(name: str, met: bool, reason: str | Sentence) -> Requirement:
    """A requirement that is no number."""
    said = reason if isinstance(reason, Sentence) else sentence(reason)
    return Requirement(name, Kind.COUNT, None, None, None, met, said)


def _number(name: str, kind: Kind, needed: float, has: float, reason: Sentence) -> Requirement:
    """A requirement met when what the size has reaches what is needed."""
    return Requirement(
        name, kind, needed, has, has / needed - 1, has >= needed * (1 - 1e-9), reason
    )


def _construction(fastener: Range, work: Work) -> Requirement:
    met = work.kind is JointKind.EITHER or work.kind.value == fastener.construction.value
    return _word(
        "construction",
        met,
        f"{work.kind.value} asked, {fastener.construction.value} in this range",
    )


def _carcass(conveyor: Conveyor) -> Requirement:
    carcass = conveyor.belt.carcass
    reason = (
        f"bolts and plates hold in a {carcass.value} carcass"
        if carcass.textile
        else "bolted plates do not hold in steel cords: a vulcanised joint is needed"
    )
    return _word("carcass", carcass.textile, reason)


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


def _pulleys(size: Size, asked: Demand) -> list[Requirement]:
    found = []
    for passing in asked.passings:
        needed = size.pulley_needed(passing.wrap.value, passing.running.value)
        reason = sentence(
            passing.pulley + ": {has} at {wrap} wrap and {share} of the rated tension, {needed} "
            "needed",
            has=passing.diameter,
            wrap=passing.wrap,
            share=(passing.running.value / size.rated_tension, Kind.SHARE),
            needed=(needed, Kind.LENGTH),
        )
        found.append(
            _number(
                f"pulley: {passing.pulley}", Kind.LENGTH, needed, passing.diameter.value, reason
            )
        )
    return found


def _running(size: Size, wanted: Figure) -> Requirement:
    reason = sentence(
        "rated {rated}, {wanted} needed with service factor",
        rated=(size.rated_tension, Kind.WIDTH_FORCE),
        wanted=wanted,
    )
    return _number("running tension", Kind.WIDTH_FORCE, wanted.value, size.rated_tension, reason)


def _starting(size: Size, asked: Demand) -> Requirement:
    allowed = size.starting_tension or size.rated_tension
    words = (
        "{allowed} stated for starting"
        if size.starting_tension
        else "no starting rating, so the running rating {allowed} (safe side)"
    )
    reason = sentence(
        words + ", {needed} needed", allowed=(allowed, Kind.WIDTH_FORCE), needed=asked.starting
    )
    return _number("starting tension", Kind.WIDTH_FORCE, asked.starting.value, allowed, reason)


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
        return _word("belt width", False, error.sentence)
    reason = sentence(
        f"{layout.count} plates with a mean set-back of {{setback}}", setback=layout.setback
    )
    return _word("belt width", True, reason)


def _material(fastener: Range, conveyor: Conveyor, work: Work) -> tuple[str, Requirement]:
    """The first material of the range that suits the place, and the verdict on it."""
    asked = set(work.environment)
    lacking: dict[str, list[str]] = {}
    for material in fastener.materials:
        missing = sorted(e.value for e in asked - set(material.suits))
        if material.hottest is not None and conveyor.ambient.value > material.hottest:
            missing.append("the heat")
        if not missing:
            words = ", ".join(sorted(e.value for e in asked)) or "an ordinary place"
            return material.name, _word("environment", True, f"{material.name} suits {words}")
        lacking[material.name] = missing
    best = min(lacking, key=lambda name: len(lacking[name]))
    words = ", ".join(lacking[best])
    return best, _word("environment", False, f"no material of the range is stated to suit {words}")


def _scrapers(size: Size, work: Work) -> Requirement:
    if not work.scrapers:
        return _word("scrapers", True, "no scrapers on this conveyor")
    words = (
        "stated to run under scrapers; stands {proud} proud unless the belt is skived"
        if size.scrapers
        else "not stated to run under scrapers; stands {proud} proud"
    )
    return _word("scrapers", size.scrapers, sentence(words, proud=(size.proud_height, Kind.LENGTH)))


def _reasons(
    best: Candidate | None,
    candidates: list[Candidate],
    wanted: Figure,
    thin: Figure,
    thick: Figure,
) -> tuple[Sentence, ...]:
    if not candidates:
        return (
            sentence(
                "No fastener range was given: demand, isolation and lengths hold, the choice is "
                "open."
            ),
        )
    if best is None:
        return (sentence("No size of the ranges given meets every requirement."),)
    tight = min((r for r in best.requirements if r.margin is not None), key=lambda r: r.margin or 0)
    return (
        Sentence(
            f"It meets every requirement. Tightest: {tight.reason.template}.",
            tight.reason.numbers,
        ),
        sentence(
            "Belt {thin} to {thick} thick; running tension with service factor {wanted}.",
            thin=thin,
            thick=thick,
            wanted=wanted,
        ),
    )


def _turns(
    best: Candidate | None, passing: list[Candidate], candidates: list[Candidate], wanted: Figure
) -> tuple[Sentence, ...]:
    """What would change the answer, in plain words."""
    if best is None:
        return ()
    size = best.size
    said = [
        sentence(
            "A running tension above {rated} (now {wanted} with service factor) rules it out.",
            rated=(size.rated_tension, Kind.WIDTH_FORCE),
            wanted=wanted,
        ),
        sentence(
            "A belt outside {low} to {high} anywhere across the end rules it out.",
            low=(size.thickness[0], Kind.LENGTH),
            high=(size.thickness[1], Kind.LENGTH),
        ),
    ]
    pulleys = [r for r in best.requirements if r.name.startswith("pulley: ")]
    if pulleys:
        tight = min(pulleys, key=lambda r: r.margin or 0.0)
        where = tight.name.removeprefix("pulley: ")
        said.append(
            sentence(
                f"Below {{needed}} at the {where} (now {{has}}) it is ruled out.",
                needed=(tight.needed or 0.0, Kind.LENGTH),
                has=(tight.has or 0.0, Kind.LENGTH),
            )
        )
    if len(passing) > 1:
        said.append(
            sentence(
                f"Runner-up: {passing[1].name}, smallest margin {{margin}}.",
                margin=(passing[1].margin, Kind.SHARE),
            )
        )
    else:
        near = next((c for c in candidates if not c.passes), None)
        if near is not None:
            misses = ", ".join(r.name for r in near.missed)
            said.append(
                sentence(f"No runner-up passes; nearest is {near.name}, which misses {misses}.")
            )
    return tuple(said)
