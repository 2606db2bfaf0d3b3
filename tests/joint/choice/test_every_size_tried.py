"""The recommended fastener is the best of all, found by trying every size by hand.

Source of what is expected: the requirements written out here as plain comparisons (thickness in the
window, every pulley, running and starting tension, scrapers) over random ranges of invented sizes,
and the largest of the smallest reserves among those that meet all.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from depth import sized
from joint.choice.test_plates import FITS, a_range, job
from proof import noted, proves
from splicewright.joint import Range, Size, choose
from splicewright.quantities import Worksheet
from splicewright.tension import Demand, demand
from strategies import conveyor_of, outline


def drawn(rng: np.random.Generator, asked: Demand, factor: float) -> tuple[Size, ...]:
    """Sizes some of which do and some of which do not meet each requirement."""
    smallest = min(p.diameter.value for p in asked.passings)
    made = []
    for n in range(int(rng.integers(2, 9))):
        starts = rng.random() < 0.7
        made.append(
            replace(
                FITS,
                pitch=0.04 + n * 1e-4,
                rated_tension=factor * asked.running.value * rng.uniform(0.8, 2.5),
                starting_tension=asked.starting.value * rng.uniform(0.8, 2.5) if starts else None,
                smallest_pulley=smallest * rng.uniform(0.4, 1.2),
                thickness=(0.012 * rng.uniform(0.6, 1.1), 0.012 * rng.uniform(1.0, 1.5)),
                scrapers=bool(rng.random() < 0.8),
            )
        )
    return tuple(made)


def reserve(size: Size, asked: Demand, factor: float, thick: float, scraped: bool) -> float | None:
    """Smallest reserve of a size, None where it misses a requirement."""
    allowed = size.starting_tension if size.starting_tension else size.rated_tension
    shares = [p.diameter.value / size.smallest_pulley for p in asked.passings]
    shares += [size.rated_tension / (factor * asked.running.value)]
    shares += [allowed / asked.starting.value]
    low, high = size.thickness
    if min(shares) < 1 or not low <= thick <= high or (scraped and not size.scrapers):
        return None
    return min(shares) - 1


@proves(
    "Choice, layout and marking",
    "The fastener chosen, against every size tried",
    "B",
    "Random ranges of two to eight invented sizes on one conveyor, with scrapers and without: the "
    "size with the largest of the smallest reserves among those that meet every requirement.",
    doubt="None beyond that largest smallest reserve is this tool's own rule of choice.",
    tolerance="the same size; its reserve to rounding",
    sketch="sizes",
)
def test_the_choice_is_the_best_of_every_size_tried() -> None:
    rng, plant = np.random.default_rng(6), conveyor_of(outline())
    asked = demand(plant, Worksheet())
    thick, factor = plant.belt.thickness.value, job(plant).service_factor.value
    found = 0
    runs = sized(60, deep=2000)
    for _ in range(runs):
        scraped = bool(rng.random() < 0.5)
        work = replace(job(plant), scrapers=scraped)
        sizes = drawn(rng, asked, factor)
        ranges: tuple[Range, ...] = (a_range(*sizes[:2]), a_range(*sizes[2:], name="other"))
        choice = choose(ranges, plant, work, asked, Worksheet())
        tried = {s.pitch: reserve(s, asked, factor, thick, scraped) for s in sizes}
        good = {pitch: left for pitch, left in tried.items() if left is not None}
        assert {c.size.pitch for c in choice.candidates if c.passes} == set(good)
        if not good:
            assert choice.best is None
            continue
        found += 1
        best = max(good, key=lambda pitch: good[pitch])
        assert choice.best is not None and choice.best.size.pitch == best
        assert choice.best.margin == pytest.approx(good[best], abs=1e-9)
        if len(good) > 1:
            second = sorted(good, key=lambda pitch: -good[pitch])[1]
            assert choice.candidates[1].size.pitch == second
            assert choice.runner_up == choice.candidates[1].name
    noted("ranges in which some size meets everything", found, found, 0.0)
    assert runs / 5 < found < runs
