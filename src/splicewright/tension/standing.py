"""The belt at rest: what pulls at the place of work, what may run back, what is stored.

Every figure here is printed on its safe side: friction is never credited where it would help,
and added where it would hurt. Nothing here replaces lock-out, try-out and a competent person.
"""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.loop import Path
from splicewright.plant import Conveyor, Run, Side, TakeUpKind, Work
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Origin,
    Sentence,
    Worksheet,
    assumed,
    sentence,
)
from splicewright.tension.cases import LoadCase
from splicewright.tension.demand import Demand
from splicewright.tension.energy import load_energy, strain_energy, weight_energy
from splicewright.tension.load_rest import LoadRest, load_rests, rest_findings
from splicewright.tension.resistance import main_resistance
from splicewright.tension.run_back import RunBack, load_metres, run_back
from splicewright.tension.spread import WHY, worst_rise, worst_shares
from splicewright.tension.statics import (
    drawing_force,
    load_left,
    load_on_the_way,
    strand_weight,
    tension_at_rest,
)
from splicewright.tension.traction import per_width, times


@dataclass(frozen=True, slots=True)
class Standing:
    """Forces at the place of work with everything stopped [N], and stored energy [J].

    acting: belt tension with the take-up acting, safe high side; released: with the take-up
    lifted or slacked; hold_below, hold_above: what a clamp must hold of the belt below and
    above the cut, the pull of the other side over the top pulley included; clamp_rating,
    hoist_rating: with the stated factor; friction: of the belt on its way to the take-up;
    pull_together: force to draw the ends together; run_back: pull of the load on the uncut belt,
    the way it pulls most; running_back: both ways; load_rests: whether the load stays put.
    """

    acting: Figure
    acting_per_width: Figure
    released: Figure
    hold_below: Figure
    hold_above: Figure
    hold: Figure
    clamp_rating: Figure
    friction: Figure
    pull_together: Figure
    hoist_rating: Figure
    run_back: Figure
    running_back: RunBack
    load_rests: tuple[LoadRest, ...]
    belt_energy: Figure
    weight_energy: Figure | None
    load_energy: Figure
    remarks: tuple[Sentence, ...]


def standing(
    conveyor: Conveyor, work: Work, path: Path, asked: Demand, sheet: Worksheet
) -> Standing:
    """Work out what the crew meets at the place of work with everything stopped.

    Parameters
    ----------
    conveyor, work : plant and job
    path : the loop laid out
    asked : the demand, for the take-up tension
    sheet : takes every line
    """
    belt = conveyor.belt
    full = asked.case(LoadCase.FULL)
    take_up = full.take_up
    run = next(r for r in conveyor.runs() if r.name == work.run)
    load = conveyor.material.line_mass
    running_back = run_back(conveyor, work.load_left, sheet)
    acting = _at_rest("standstill.acting", "belt tension at the place of work, take-up acting",
                      take_up, conveyor, work, path, asked, sheet)  # fmt: skip
    off = assumed("standstill.take_up_off", "tension at the take-up when released", 0.0, Kind.FORCE,
                  "take-up lifted, slacked or unloaded and secured", (0.0, 0.0))  # fmt: skip
    released = _at_rest("standstill.released", "the same, take-up released",
                        off, conveyor, work, path, asked, sheet)  # fmt: skip
    _, height = path.place(work)
    pulls = _pulls(conveyor, work, run, running_back, sheet)

    def held(name: str, label: str, pulled: Figure, fall: float) -> Figure:
        return sheet.work(
            f"standstill.{name}", label, strand_weight,
            belt=belt.line_mass, load=load, pulls=pulled, take_up=take_up,
            fall=_height(f"standstill.{name}_fall", f"height of the belt for the {label}", fall),
            friction=_friction(sheet),
        )  # fmt: skip

    below = held("strand_below", "weight of the strand below the cut", pulls.below,
                 height - _lowest(path))  # fmt: skip
    above = held("strand_above", "weight of the strand above the cut", pulls.down_to_the_cut,
                 _highest(path) - height)  # fmt: skip
    over = held("over_the_top", "pull of the other side over the top pulley", pulls.over_the_top,
                _highest(path) - _lowest(path))  # fmt: skip
    holds = [
        sheet.total("standstill.hold_below", "clamp force for the belt below the cut", [below]),
        sheet.largest("standstill.hold_above", "clamp force for the belt above the cut",
                      [above, over]),
    ]  # fmt: skip
    hold = sheet.largest("standstill.hold", "force each restraining clamp must hold",
                         [*holds, acting])  # fmt: skip
    rating = sheet.work("standstill.clamp_rating", "least rating of each restraining clamp",
                        times, factor=work.clamp_factor, pull=hold)  # fmt: skip
    pull = _drawing(conveyor, work, path, _friction(sheet), sheet)
    hoist = sheet.work("standstill.hoist_rating", "least rating of hoist and pulling clamps",
                       times, factor=work.clamp_factor, pull=pull)  # fmt: skip
    rests = load_rests(conveyor, sheet) if work.load_left.value > 0 else ()
    energies = [
        sheet.work(
            f"standstill.energy.{n}", f"energy stored in {p.name}", strain_energy,
            tension=sheet.largest(f"standstill.energy.{n}.tension", f"tighter end of {p.name}",
                                  [p.entering, p.leaving]),
            length=_run(conveyor, p.name).length,
            modulus=_soft(conveyor), width=belt.width,
        )
        for n, p in enumerate(full.points, 1)
        if p.is_run
    ]  # fmt: skip
    weight = None
    if conveyor.take_up.mass is not None:
        weight = sheet.work(
            "standstill.weight_energy", "energy of the counterweight should it fall",
            weight_energy, mass=conveyor.take_up.mass, drop=conveyor.take_up.travel,
        )  # fmt: skip
    return Standing(
        acting=acting,
        acting_per_width=sheet.work("standstill.acting_per_width", "the same per width",
                                    per_width, tension=acting, width=belt.width),
        released=released,
        hold_below=holds[0],
        hold_above=holds[1],
        hold=hold,
        clamp_rating=rating,
        friction=_friction(sheet),
        pull_together=pull,
        hoist_rating=hoist,
        run_back=running_back.most,
        running_back=running_back,
        load_rests=rests,
        belt_energy=sheet.total("standstill.belt_energy", "energy stored in the stretched belt",
                                energies),
        weight_energy=weight,
        load_energy=_load_energy(conveyor, work, path, sheet),
        remarks=_remarks(conveyor, work, running_back, rests),
    )  # fmt: skip


def _no_load() -> Given:
    return assumed(
        "standstill.no_load", "load on the return side", 0.0, Kind.SHARE,
        "the return side carries no load", (0.0, 0.0),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Pulls:
    """Heights over which load in its worst spread pulls on the clamps [m].

    below: away from the cut on the lower side; over_the_top: away from it on the upper side, over
    the top pulley; down_to_the_cut: load above the cut, sliding down to it.
    """

    below: Figure
    over_the_top: Figure
    down_to_the_cut: Figure


def _pulls(conveyor: Conveyor, work: Work, run: Run, back: RunBack, sheet: Worksheet) -> _Pulls:
    """How far load pulls on each side of the cut.

    A cut belt is one strip from one side of the cut round the loop to the other. With the driven
    pulley free, all load that pulls backwards hangs on the end behind the cut, wherever on the
    strip it lies, and all that pulls forwards on the end ahead.
    """
    behind, ahead = back.back.rise, back.forward.rise
    slope = run.rise.value
    if abs(slope) < 1e-9:  # level: neither side is the lower one
        either = sheet.largest("standstill.pulls", "height over which load pulls, either way",
                               [behind, ahead])  # fmt: skip
        behind = ahead = either
    below, over = (behind, ahead) if slope >= 0 else (ahead, behind)
    pieces = _carry_pieces(conveyor, work, ahead=slope >= 0)
    sign = 1.0 if slope >= 0 else -1.0
    down, _ = worst_rise(
        "standstill.pulls_down", "height over which load above the cut pulls down to it",
        [sign * rise for rise, _ in pieces], [length for _, length in pieces],
        load_metres(conveyor, work.load_left),
        [work.load_left, *(r.rise for r in conveyor.runs() if r.side is Side.CARRY)], sheet,
    )  # fmt: skip
    return _Pulls(below, over, down)


def _carry_pieces(conveyor: Conveyor, work: Work, *, ahead: bool) -> list[tuple[float, float]]:
    """Rise and length of the carry side ahead of or behind a cut on it [m]; none for a cut on the
    return side."""
    carry = [r for r in conveyor.runs() if r.side is Side.CARRY]
    names = [r.name for r in carry]
    if work.run not in names:
        return []
    at = names.index(work.run)
    part = min(1.0, work.distance.value / carry[at].length.value)
    rest = carry[at + 1 :] if ahead else carry[:at]
    shares = [(carry[at], 1.0 - part if ahead else part), *((r, 1.0) for r in rest)]
    return [(s * r.rise.value, s * r.length.value) for r, s in shares if s > 0]


def _load_energy(conveyor: Conveyor, work: Work, path: Path, sheet: Worksheet) -> Figure:
    """Energy of the load brought down to the lowest point of the carry side, at most."""
    carry = [r for r in conveyor.runs() if r.side is Side.CARRY]
    ends = [h for r in carry for h in (path.at(r.name).height_in, path.at(r.name).height_out)]
    low, high = min(ends), max(ends)
    load = conveyor.material.line_mass
    full = [
        sheet.work(
            f"standstill.load_energy.{n}", f"energy of full load on {r.name}", load_energy,
            load=load, length=r.length,
            height=_height(
                f"standstill.load_height.{n}", f"mean height of {r.name} over the lowest place",
                (path.at(r.name).height_in + path.at(r.name).height_out) / 2 - low,
            ),
        )
        for n, r in enumerate(carry, 1)
    ]  # fmt: skip
    left = sheet.work(
        "standstill.load_energy.top", "energy of the load left, all of it at the top", load_energy,
        load=load, height=_height("standstill.load_height", "height of the carry side", high - low),
        length=sheet.found(
            "standstill.load_metres", "metres of full load left",
            load_metres(conveyor, work.load_left), Kind.DISTANCE,
            "share left times the length of the carry side",
            [work.load_left, *(r.length for r in carry)],
        ),
    )  # fmt: skip
    whole = sheet.total("standstill.load_energy.full", "energy of a full load", full, Kind.ENERGY)
    return sheet.smallest("standstill.load_energy", "energy of the load on its slopes, at most",
                          [whole, left])  # fmt: skip


def _height(key: str, label: str, value: float) -> Figure:
    """A height read off the laid-out loop."""
    return Given(key, label, value, Kind.DISTANCE, Origin.FILE, "from the loop", value, value)


def _run(conveyor: Conveyor, name: str) -> Run:
    return next(r for r in conveyor.runs() if r.name == name)


def _lowest(path: Path) -> float:
    """Lowest point of the loop: down to it a strand may hang."""
    return min(min(s.height_in, s.height_out) for s in path.stations)


def _highest(path: Path) -> float:
    """Highest point of the loop: from it a strand may run down."""
    return max(max(s.height_in, s.height_out) for s in path.stations)


def _soft(conveyor: Conveyor) -> Given:
    """The belt modulus at its low end: a soft belt stores more."""
    modulus = conveyor.belt.modulus
    return Given(
        "belt.modulus_low", "belt modulus, low end (stores most)", modulus.low, Kind.WIDTH_FORCE,
        modulus.origin, modulus.reason, modulus.low, modulus.low,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Leg:
    """One run on the way from the take-up to the place: part of it walked, height gained [m]."""

    run: Run
    part: float
    climb: float


def _way_from_take_up(conveyor: Conveyor, work: Work) -> list[_Leg]:
    """The runs between take-up and place of work, not crossing a driven pulley.

    Both ways round are tried and the longer of two open ones is taken (more friction: safe
    side). Empty when driven pulleys block both.
    """
    loop = list(conveyor.loop)
    start = next(n for n, e in enumerate(loop) if e.name == conveyor.take_up.pulley)
    ways: list[list[_Leg]] = []
    for step in (1, -1):
        way: list[_Leg] = []
        index = start
        for _ in loop:
            index = (index + step) % len(loop)
            element = loop[index]
            if isinstance(element, Run):
                here = element.name == work.run
                along = min(1.0, work.distance.value / element.length.value)
                part = 1.0 if not here else along if step == 1 else 1.0 - along
                way.append(_Leg(element, part, step * part * element.rise.value))
                if here:
                    ways.append(way)
                    break
            elif element.drive:
                break
    return max(ways, key=lambda w: sum(leg.run.length.value for leg in w), default=[])


def _at_rest(
    key: str, label: str, take_up: Figure, conveyor: Conveyor, work: Work, path: Path,
    asked: Demand, sheet: Worksheet,
) -> Figure:  # fmt: skip
    way = _way_from_take_up(conveyor, work)
    if not way:
        return _kept_from_running(key, label, work, asked, sheet)
    belt, full_load = conveyor.belt.line_mass, conveyor.material.line_mass
    frictions, loads = [], []
    spread = _worst_on_the_way(way, conveyor, work)
    for number, leg in enumerate(way, 1):
        name = leg.run.name
        share: Figure = _no_load()
        if leg.run.side is Side.CARRY:
            share = sheet.found(
                f"{key}.share.{number}", f"share of full load on {name}, worst spread",
                spread[number - 1], Kind.SHARE, WHY, [work.load_left, leg.run.length],
            )  # fmt: skip
        left = sheet.work(f"{key}.left.{number}", f"load left on {name}", load_left,
                          share=share, load=full_load)  # fmt: skip
        frictions.append(
            sheet.work(
                f"{key}.friction.{number}", f"friction of the standing belt on {name}",
                main_resistance,
                friction=conveyor.method.standing_friction,
                load_friction=conveyor.method.standing_friction, length=leg.run.length,
                rolls=leg.run.idlers.line_mass, belt=belt, load=left, rise=leg.run.rise,
            )
        )  # fmt: skip
        loads.append(
            sheet.work(
                f"{key}.load.{number}", f"load along {name}", load_on_the_way,
                load=full_load, share=share,
                climb=_height(f"{key}.climb.{number}", f"climb along {name}", leg.climb),
            )
        )  # fmt: skip
    friction = sheet.total(
        f"{key}.friction", "friction from the take-up to the place of work", frictions, Kind.FORCE
    )
    load = sheet.total(f"{key}.load", "load along the way", loads, Kind.FORCE)
    _, height = path.place(work)
    take_up_height = path.at(conveyor.take_up.pulley).height_in
    base = take_up_height if take_up.value > 0 else _lowest(path)
    return sheet.work(
        key, label, tension_at_rest, take_up=take_up, belt=belt,
        height=_height(f"{key}.height", "height of the place of work", height),
        take_up_height=_height(f"{key}.base", "height of take-up, or of the lowest point", base),
        load=load, friction=friction,
    )  # fmt: skip


def _worst_on_the_way(way: list[_Leg], conveyor: Conveyor, work: Work) -> list[float]:
    """How full each leg is when the load left, lying anywhere, makes the most of weight and
    friction on the way."""
    f = conveyor.method.standing_friction.value
    weights, lengths = [], []
    for leg in way:
        length = max(leg.part * leg.run.length.value, 1e-9)
        across = (max(length**2 - leg.climb**2, 0.0)) ** 0.5
        carries = leg.run.side is Side.CARRY
        weights.append(max(0.0, leg.climb) + f * across if carries else 0.0)
        lengths.append(length)
    found: list[float] = worst_shares(
        weights, lengths, load_metres(conveyor, work.load_left)
    ).tolist()
    return found


def _kept_from_running(key: str, label: str, work: Work, asked: Demand, sheet: Worksheet) -> Figure:
    """Driven pulleys part the place from the take-up: the belt may keep what it had running."""
    sheet.total(f"{key}.friction", "friction from the take-up to the place of work", [], Kind.FORCE)
    points = [r.at(work.run) for r in asked.every()]
    return sheet.largest(
        key, f"{label}: the largest of running, locked in by driven pulleys",
        [f for p in points for f in (p.entering, p.leaving)],
    )  # fmt: skip


def _drawing(
    conveyor: Conveyor, work: Work, path: Path, friction: Figure, sheet: Worksheet
) -> Figure:
    """All belt between take-up and place of work is drawn, uphill where there is a hill."""
    _, height = path.place(work)
    climb = abs(height - path.at(conveyor.take_up.pulley).height_in)
    own = next(abs(r.rise.value) for r in conveyor.runs() if r.name == work.run)
    return sheet.work(
        "standstill.pull_together",
        "force to draw the ends together",
        drawing_force,
        belt=conveyor.belt.line_mass,
        rise=_height("standstill.drawing_rise", "height the belt may be drawn up", max(climb, own)),
        friction=friction,
    )


def _remarks(
    conveyor: Conveyor, work: Work, back: RunBack, rests: tuple[LoadRest, ...]
) -> tuple[Sentence, ...]:
    said = [
        sentence("Friction is added, never credited; the driven pulley is not trusted to hold.")
    ]
    if back.most.value > 0:
        said.append(
            sentence(
                "The load alone pulls {pull} down the slope: clear the belt, or hold it, before "
                "anything is loosened.",
                pull=back.most,
            )
        )
        said.append(back.says)
    said += rest_findings(rests)
    if work.load_left.value > 0:
        said.append(
            sentence("The belt is taken as loaded. Run it empty where that is still possible.")
        )
    if conveyor.take_up.kind is TakeUpKind.GRAVITY:
        said.append(
            sentence(
                "The clamp forces hold with the counterweight still acting. Lift and secure it "
                "first all the same."
            )
        )
    if any(d.holdback is None and d.brake is None for d in conveyor.drives) and back.most.value > 0:
        said.append(
            sentence("Nobody said whether a holdback or brake is fitted: find out; trust neither.")
        )
    return tuple(said)


def _friction(sheet: Worksheet) -> Figure:
    found = sheet.get("standstill.released.friction")
    assert found is not None  # written by the tension with the take-up released
    return found
