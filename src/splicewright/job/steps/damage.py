"""What a repair takes: plates at a damaged joint, plates across a rip, width lost at an edge."""

from __future__ import annotations

import math

from splicewright.job.steps.drafts import Setting
from splicewright.plant import Damage, Work
from splicewright.quantities import Figure, Kind, Worksheet, assumed, formula


@formula(
    "N = ⌈L/a⌉ + 3",
    gives=("N", Kind.COUNT),
    symbols={"length": "L", "spacing": "a"},
    source="assumption",
    limits="one at each end, every spacing between, one more in the first gap at each end",
)
def plates_across(length: float, spacing: float) -> float:
    """Plates across a rip.

    Parameters
    ----------
    length : of the rip [m]
    spacing : of the plates along it [m]
    """
    return math.ceil(length / spacing - 1e-9) + 3


@formula(
    "t' = t B/(B - b)",
    gives=("t'", Kind.WIDTH_FORCE),
    symbols={"tension": "t", "width": "B", "lost": "b"},
    source="statics",
    limits="the whole pull on the width that is left; more beside the edge of the damage",
)
def tension_on_rest(tension: float, width: float, lost: float) -> float:
    """Tension per width where part of the width is lost.

    Parameters
    ----------
    tension : of the whole belt [N/m]
    width, lost : of the belt, and of what carries nothing [m]
    """
    return tension * width / (width - lost)


@formula(
    "s = 1 - b/B",
    gives=("s", Kind.SHARE),
    symbols={"width": "B", "lost": "b"},
    source="geometry",
)
def share_left(width: float, lost: float) -> float:
    """Share of the width that still carries, from width and width lost [m]."""
    return 1 - lost / width


def plates_lost(work: Work, pitch: float, count: int) -> int:
    """Plates that stand in the damaged width of a joint, rounded up; none where it is the pin."""
    if work.damage is not Damage.PLATES or work.damage_width is None:
        return 0
    return min(math.ceil(work.damage_width.value / pitch - 1e-9), count)


def rows_across(work: Work, sheet: Worksheet) -> tuple[int, Figure]:
    """Plates across the rip, and their spacing [m]."""
    assert work.damage_length is not None  # asked for where a rip is repaired
    spacing = sheet.note(
        assumed(
            "repair.spacing",
            "spacing of plates across a rip",
            0.25,
            Kind.LENGTH,
            "0.25 m taken, no source; the maker's instructions take precedence",
            (0.1, 0.3),
        )
    )
    count = sheet.get("repair.rows") or sheet.work(
        "repair.rows",
        "plates across the rip",
        plates_across,
        length=work.damage_length,
        spacing=spacing,
    )
    return round(count.value), spacing


def width_left(job: Setting) -> tuple[Figure, Figure]:
    """Share of the width that is left [-], and the running pull on it [N/m]."""
    lost = job.work.damage_width
    assert lost is not None
    width = job.work.belt_width or job.conveyor.belt.width
    return (
        job.sheet.work("repair.share", "width left", share_left, width=width, lost=lost),
        job.sheet.work(
            "repair.tension",
            "running pull on the width left",
            tension_on_rest,
            tension=job.running,
            width=width,
            lost=lost,
        ),
    )


def taper(job: Setting) -> Figure:
    """Length of each taper of a cut edge [m]: ten times its width."""
    lost = job.work.damage_width
    assert lost is not None
    return job.sheet.found(
        "repair.taper",
        "taper at each end of a cut edge",
        10 * lost.value,
        Kind.DISTANCE,
        "ten times the width cut away; common practice, no source",
        [lost],
    )
