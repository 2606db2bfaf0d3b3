"""What the machine asks of a joint: two independent ways side by side, and which governs."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.plant import Conveyor, slug
from splicewright.quantities import Figure, Sentence, Worksheet
from splicewright.tension.resistance import traction
from splicewright.tension.running.load_cases import ORDINARY, LoadCase, applicable
from splicewright.tension.running.partial_loading import WorstLoading, worst_loading
from splicewright.tension.running.plausibility import findings
from splicewright.tension.running.running import Running, running
from splicewright.tension.running.walk import at_station


@dataclass(frozen=True, slots=True)
class Nameplate:
    """The demand from the motor plates alone; forces [N], per width [N/m]."""

    pull: Figure
    behind_drive: Figure
    largest: Figure
    starting_pull: Figure
    starting: Figure


@dataclass(frozen=True, slots=True)
class Passing:
    """The joint on one pulley: tension per width, the larger of entering and leaving [N/m].

    diameter [m], wrap [rad] as they are; running over the empty and full cases, starting.
    """

    pulley: str
    diameter: Figure
    wrap: Figure
    touches: str
    running: Figure
    starting: Figure


@dataclass(frozen=True, slots=True)
class Demand:
    """All that the joint must satisfy.

    cases, reverse_cases: empty, full, starting, each way; other_cases, other_reverse_cases: the
    rest that can happen; worst, reverse_worst: the worst partial loading, each way;
    running, starting: governing tensions per width [N/m]; exceptional: the largest of a
    blocked chute and an engaged holdback, None without them; governed_by: which way gave it.
    """

    cases: tuple[Running, ...]
    other_cases: tuple[Running, ...]
    worst: WorstLoading | None
    reverse_cases: tuple[Running, ...]
    other_reverse_cases: tuple[Running, ...]
    reverse_worst: WorstLoading | None
    nameplate: Nameplate | None
    passings: tuple[Passing, ...]
    running: Figure
    starting: Figure
    exceptional: Figure | None
    running_governed_by: str
    starting_governed_by: str
    belt_safety: Figure
    findings: tuple[Sentence, ...]

    def every(self) -> tuple[Running, ...]:
        """Every case worked, both ways."""
        return (*self.cases, *self.other_cases, *self.reverse_cases, *self.other_reverse_cases)

    def is_reverse(self, case: Running) -> bool:
        """Whether a solved case is one of the belt running backwards."""
        return any(case is r for r in (*self.reverse_cases, *self.other_reverse_cases))

    def case(self, case: LoadCase) -> Running:
        """The forward solution of one load case; KeyError when it was not worked."""
        for solution in (*self.cases, *self.other_cases):
            if solution.case is case:
                return solution
        raise KeyError(case)


@dataclass(frozen=True, slots=True)
class Governing:
    """Every case of a demand with the governing tensions per width [N/m]."""

    forward: tuple[Running, ...]
    backward: tuple[Running, ...]
    worst_forward: WorstLoading | None
    worst_backward: WorstLoading | None
    nameplate: Nameplate | None
    steady: tuple[Figure, ...]
    transient: tuple[Figure, ...]
    running: Figure
    starting: Figure
    exceptional: Figure | None

    @property
    def worst(self) -> tuple[WorstLoading, ...]:
        """The worst partial loadings there are, both ways."""
        return tuple(w for w in (self.worst_forward, self.worst_backward) if w is not None)


def governing(conveyor: Conveyor, sheet: Worksheet) -> Governing:
    """Solve every case that can happen and take the largest: the numbers of a demand.

    Works for inputs that are arrays too: many variants of one conveyor at once.

    Parameters
    ----------
    conveyor : with all gaps filled
    sheet : takes every line
    """
    forward, held = running(conveyor, applicable(conveyor), sheet)
    backward: tuple[Running, ...] = ()
    worst, worst_back = worst_loading(conveyor, held, sheet), None
    if conveyor.reversing:
        turned = conveyor.turned_round()
        # What rises one way falls the other: the cases that can happen differ too.
        backward, held_back = running(turned, applicable(turned), sheet, "reverse.")
        worst_back = worst_loading(turned, held_back, sheet, "reverse.")
    plate = _nameplate(conveyor, forward, sheet)
    every = (*forward, *backward)
    steady = [r.largest for r in every if r.case.steady] + [
        w.largest for w in (worst, worst_back) if w is not None
    ]
    transient = [r.largest for r in every if r.case.transient]
    if plate is not None:
        steady.append(plate.largest)
        transient.append(plate.starting)
    rare = [r.largest for r in every if not (r.case.steady or r.case.transient)]
    return Governing(
        forward,
        backward,
        worst,
        worst_back,
        plate,
        tuple(steady),
        tuple(transient),
        sheet.largest("demand.running", "governing running tension per width", steady),
        sheet.largest("demand.starting", "governing starting tension per width", transient),
        sheet.largest("demand.exceptional", "largest exceptional tension per width", rare)
        if rare
        else None,
    )


def demand(conveyor: Conveyor, sheet: Worksheet) -> Demand:
    """Work out what a joint on this conveyor must satisfy.

    Parameters
    ----------
    conveyor : with all gaps filled
    sheet : takes every line
    """
    solved = governing(conveyor, sheet)
    safety = sheet.work(
        "demand.belt_safety",
        "belt strength over governing running tension",
        traction.safety_factor,
        strength=conveyor.belt.strength,
        tension=solved.running,
    )
    every = (*solved.forward, *solved.backward)
    return Demand(
        cases=tuple(r for r in solved.forward if r.case in ORDINARY),
        other_cases=tuple(r for r in solved.forward if r.case not in ORDINARY),
        worst=solved.worst_forward,
        reverse_cases=tuple(r for r in solved.backward if r.case in ORDINARY),
        other_reverse_cases=tuple(r for r in solved.backward if r.case not in ORDINARY),
        reverse_worst=solved.worst_backward,
        nameplate=solved.nameplate,
        passings=_passings(conveyor, every, solved.worst, sheet),
        running=solved.running,
        starting=solved.starting,
        exceptional=solved.exceptional,
        running_governed_by=_giver(solved.running, solved.steady),
        starting_governed_by=_giver(solved.starting, solved.transient),
        belt_safety=safety,
        findings=findings(
            conveyor,
            forward=solved.forward,
            backward=solved.backward,
            plate=solved.nameplate.pull if solved.nameplate else None,
            top=solved.running,
            sheet=sheet,
        ),
    )


def _giver(governing: Figure, parts: tuple[Figure, ...]) -> str:
    return max(parts, key=lambda p: p.value).label


def _nameplate(
    conveyor: Conveyor, cases: tuple[Running, ...], sheet: Worksheet
) -> Nameplate | None:
    if any(d.power is None for d in conveyor.drives):
        return None
    pulls = []
    for number, drive in enumerate(conveyor.drives, 1):
        assert drive.power is not None  # checked above
        pulls.append(
            sheet.work(
                f"nameplate.{number}.pull",
                f"pull at rated power, {drive.name}",
                traction.nameplate_pull,
                power=drive.power,
                efficiency=drive.efficiency,
                speed=conveyor.speed,
            )
        )
    pull = sheet.total("nameplate.pull", "pull at rated power of all drives", pulls)
    full = next(c for c in cases if c.case is LoadCase.FULL)
    known = conveyor.take_up.mass is not None or conveyor.take_up.force is not None
    if known:
        behind = sheet.total(
            "nameplate.behind_drive",
            "tension behind the drive, from the take-up",
            [full.behind_drive],
        )
    else:
        driven = [p for p in conveyor.pulleys() if p.drive]
        grip = sheet.work(
            "nameplate.grip",
            "tension behind the drive for grip at rated pull",
            traction.slack_side_for_grip,
            margin=conveyor.method.slip_margin,
            pull=pull,
            friction=conveyor.method.drum_friction,
            wrap=sheet.total(
                "nameplate.wrap", "wrap of all driven pulleys", [sheet.note(p.wrap) for p in driven]
            ),
        )
        behind = sheet.largest(
            "nameplate.behind_drive",
            "tension behind the drive, the larger of what grip and the running belt want",
            [grip, full.behind_drive],
        )
    starts = [
        sheet.work(
            f"nameplate.{number}.starting_pull",
            f"pull at the start, {drive.name}",
            traction.times,
            factor=drive.start_factor,
            pull=own,
        )
        for number, (drive, own) in enumerate(zip(conveyor.drives, pulls, strict=True), 1)
    ]
    start_pull = sheet.total("nameplate.starting_pull", "pull of all drives at the start", starts)
    tensions = {}
    for name, force, label in (
        ("largest", pull, "nameplate, running"),
        ("starting", start_pull, "nameplate, starting"),
    ):
        top = sheet.work(
            f"nameplate.{name}_force",
            f"tight side by {label}",
            at_station,
            alpha=1.0,
            datum=behind,
            beta=force,
        )
        tensions[name] = sheet.work(
            f"nameplate.{name}",
            f"largest tension per width, {label}",
            traction.per_width,
            tension=top,
            width=conveyor.belt.width,
        )
    return Nameplate(pull, behind, tensions["largest"], start_pull, tensions["starting"])


def _passings(
    conveyor: Conveyor,
    every: tuple[Running, ...],
    worst: tuple[WorstLoading, ...],
    sheet: Worksheet,
) -> tuple[Passing, ...]:
    passings = []
    for pulley in conveyor.pulleys():
        key = f"passing.{slug(pulley.name)}"
        steady = [
            force
            for r in every
            if r.case.steady
            for force in (r.at(pulley.name).entering, r.at(pulley.name).leaving)
        ]
        # A worst point lies behind its element: the one before the pulley enters it.
        steady += [
            p.tension
            for w in worst
            for before, here in zip((w.points[-1], *w.points), w.points, strict=False)
            if here.name == pulley.name
            for p in (before, here)
        ]
        transient = [
            force
            for r in every
            if r.case.transient
            for force in (r.at(pulley.name).entering, r.at(pulley.name).leaving)
        ]
        tensions = {}
        for name, forces in (("running", steady), ("starting", transient)):
            top = sheet.largest(
                f"{key}.{name}_force", f"largest tension at {pulley.name}, {name}", forces
            )
            tensions[name] = sheet.work(
                f"{key}.{name}",
                f"tension per width at {pulley.name}, {name}",
                traction.per_width,
                tension=top,
                width=conveyor.belt.width,
            )
        passings.append(
            Passing(
                pulley.name,
                sheet.note(pulley.diameter),
                sheet.note(pulley.wrap),
                pulley.touches.value,
                tensions["running"],
                tensions["starting"],
            )
        )
    return tuple(passings)
