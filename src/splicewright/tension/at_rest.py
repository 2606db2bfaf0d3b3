"""Tension of the standing belt at any place: the way to it from the take-up, friction added."""

from __future__ import annotations

from dataclasses import dataclass, replace

from splicewright.loop import Path
from splicewright.plant import Conveyor, Run, Side, Work, slug
from splicewright.quantities import Figure, Given, Kind, Origin, Worksheet, assumed
from splicewright.tension.cases import LoadCase
from splicewright.tension.demand import Demand
from splicewright.tension.resistance import main_resistance
from splicewright.tension.run_back import load_metres
from splicewright.tension.spread import WHY, worst_shares
from splicewright.tension.statics import load_left, load_on_the_way, tension_at_rest


@dataclass(frozen=True, slots=True)
class RestPoint:
    """Highest tension of the standing belt at the end of one run [N].

    acting, released: with the take-up acting and let go; locked: stopped with it held fast, when
    any part may keep what it had running.
    """

    run: str
    acting: Figure
    locked: Figure
    released: Figure


def rest_points(
    conveyor: Conveyor, work: Work, path: Path, asked: Demand, sheet: Worksheet
) -> tuple[RestPoint, ...]:
    """The standing belt at the end of every run, with the load of `work` lying anywhere.

    Parameters
    ----------
    conveyor, path : the plant, and its loop laid out
    work : any job on it, for the load left
    asked : the demand
    sheet : takes every line
    """
    off = take_up_off()
    full = asked.case(LoadCase.FULL)
    found = []
    for run in conveyor.runs():
        there = replace(work, run=run.name, distance=run.length)
        key = f"at_rest.{slug(run.name)}"
        label = f"belt tension at rest, end of {run.name}"
        made = {
            name: at_rest(f"{key}.{name}", f"{label}, take-up {name}", take_up, conveyor, there,
                          path, asked, sheet)
            for name, take_up in (("acting", full.take_up), ("released", off))
        }  # fmt: skip
        kept = [
            f for c in asked.every() for f in (c.at(run.name).entering, c.at(run.name).leaving)
        ]  # fmt: skip
        locked = sheet.largest(f"{key}.locked", f"{label}, take-up locked: the largest of running",
                               [*kept, made["acting"]])  # fmt: skip
        found.append(RestPoint(run.name, made["acting"], locked, made["released"]))
    return tuple(found)


def take_up_off() -> Given:
    """No tension from a take-up that is lifted, slacked or unloaded."""
    return assumed(
        "standstill.take_up_off", "tension at the take-up when released", 0.0, Kind.FORCE,
        "take-up lifted, slacked or unloaded and secured", (0.0, 0.0),
    )  # fmt: skip


def _no_load() -> Given:
    return assumed(
        "standstill.no_load", "load on the return side", 0.0, Kind.SHARE,
        "the return side carries no load", (0.0, 0.0),
    )  # fmt: skip


def height_of(key: str, label: str, value: float) -> Figure:
    """A height read off the laid-out loop."""
    return Given(key, label, value, Kind.DISTANCE, Origin.FILE, "from the loop", value, value)


def lowest(path: Path) -> float:
    """Lowest point of the loop: down to it a strand may hang."""
    return min(min(s.height_in, s.height_out) for s in path.stations)


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


def at_rest(
    key: str, label: str, take_up: Figure, conveyor: Conveyor, work: Work, path: Path,
    asked: Demand, sheet: Worksheet,
) -> Figure:  # fmt: skip
    """Highest belt tension at a place with everything stopped, and the load where it pulls most.

    Parameters
    ----------
    key, label : of the figure
    take_up : tension at the take-up [N]
    conveyor, work, path : the plant, the place in it, and the loop laid out
    asked : the demand: where driven pulleys part place and take-up the belt keeps what it had
    sheet : takes every line

    Returns
    -------
    The tension; its friction stands under the key with ".friction"
    """
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
                climb=height_of(f"{key}.climb.{number}", f"climb along {name}", leg.climb),
            )
        )  # fmt: skip
    friction = sheet.total(
        f"{key}.friction", "friction from the take-up to the place of work", frictions, Kind.FORCE
    )
    load = sheet.total(f"{key}.load", "load along the way", loads, Kind.FORCE)
    _, height = path.place(work)
    take_up_height = path.at(conveyor.take_up.pulley).height_in
    base = take_up_height if take_up.value > 0 else lowest(path)
    return sheet.work(
        key, label, tension_at_rest, take_up=take_up, belt=belt,
        height=height_of(f"{key}.height", "height of the place of work", height),
        take_up_height=height_of(f"{key}.base", "height of take-up, or of the lowest point", base),
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
