"""The secondary resistances of a conveyor added up one by one, beside (C - 1) F_H.

What is remembered rather than read is never used silently: it is passed in as a given with its
reason, and appears among the assumptions of the worksheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from splicewright.plant import Carcass
from splicewright.quantities import Figure, Given, Kind, Worksheet, assumed
from splicewright.tension.resistance.main import secondary_resistance, volume_flow_of
from splicewright.tension.resistance.secondary import (
    belt_wrap,
    equal_coefficient,
    feed_acceleration,
    feed_zone_friction,
    feed_zone_length,
    pulley_bearings,
)


@dataclass(frozen=True, slots=True)
class Bending:
    """Constants of the belt-wrap relation, each a given with its reason."""

    factor: Given
    base: Given
    share: Given


def remembered_bending(carcass: Carcass) -> Bending:
    """The remembered constants of belt wrap for a carcass, as named assumptions."""
    kind = "textile" if carcass.textile else "steel cord"
    why = f"belt wrap on pulleys, {kind} belt: constant from memory of the standard, unverified"
    factor, base = (9.0, 140.0) if carcass.textile else (12.0, 200.0)
    return Bending(
        assumed(
            "secondary.wrap_factor",
            "belt wrap factor",
            factor,
            Kind.RATIO,
            why,
            (0.8 * factor, 1.2 * factor),
        ),
        assumed(
            "secondary.wrap_base",
            "belt wrap base",
            base,
            Kind.WIDTH_FORCE,
            why,
            (0.8 * base, 1.2 * base),
        ),
        assumed(
            "secondary.wrap_share",
            "belt wrap share of tension",
            0.01,
            Kind.RATIO,
            why,
            (0.008, 0.012),
        ),
    )


def remembered_bearings() -> Given:
    """The remembered bearing factor of pulleys, as a named assumption."""
    return assumed(
        "secondary.bearing_factor",
        "bearing factor of pulleys",
        0.005,
        Kind.RATIO,
        "bearing friction of pulleys 0.005 from memory of the standard, unverified",
        (0.003, 0.008),
    )


def remembered_feed_friction(key: str, label: str) -> Given:
    """The remembered friction of load on belt or boards, as a named assumption."""
    return assumed(
        key,
        label,
        0.6,
        Kind.RATIO,
        "friction of the load 0.5 to 0.7 from memory of the standard; the middle taken",
        (0.5, 0.7),
    )


@dataclass(frozen=True, slots=True)
class Feed:
    """A feed point: mass flow [kg/s], density [kg/m3], feed speed [m/s], skirts.

    on_belt, on_boards: friction mu_1, mu_2 of the load [-]; between: inside width of the
    boards [m], None for no boards; length: of the boards in the feed zone [m], None for the
    least.
    """

    name: str
    rate: Figure
    density: Figure
    feed_speed: Figure
    on_belt: Given
    on_boards: Given
    between: Figure | None
    length: Figure | None = None


@dataclass(frozen=True, slots=True)
class PulleyPass:
    """A pulley as the belt meets it: mean tension and resultant [N], diameter and shaft [m].

    shaft is None where the bearings are not counted: a driven pulley, or shaft unknown.
    """

    name: str
    tension: Figure
    diameter: Figure
    shaft: Figure | None = None
    resultant: Figure | None = None


@dataclass(frozen=True, slots=True)
class SecondaryTerms:
    """Secondary resistances one by one and added [N], and the C they would equal [-].

    by_coefficient: (C - 1) F_H of the all-at-once form; zones: least feed zones [m];
    equal_coefficient is None without any main resistance.
    """

    feeds: tuple[Figure, ...]
    boards: tuple[Figure, ...]
    zones: tuple[Figure, ...]
    wraps: tuple[Figure, ...]
    bearings: tuple[Figure, ...]
    tilts: tuple[Figure, ...]
    total: Figure
    by_coefficient: Figure
    equal_coefficient: Figure | None


def secondary_terms(
    *,
    feeds: Sequence[Feed],
    pulleys: Sequence[PulleyPass],
    tilts: Sequence[Figure],
    speed: Figure,
    width: Figure,
    thickness: Figure,
    bending: Bending,
    bearing_factor: Given,
    main: Figure,
    coefficient: Figure,
    sheet: Worksheet,
    key: str,
) -> SecondaryTerms:
    """Add up the secondary resistances of a conveyor and set them beside (C - 1) F_H.

    Parameters
    ----------
    feeds, pulleys : what the belt meets
    tilts : resistances of tilted return idlers already worked, each counted here [N]
    speed : of the belt [m/s]
    width, thickness : of the belt [m]
    bending, bearing_factor : constants of the relations, each with its reason
    main : main resistance of the whole loop [N]
    coefficient : C of the all-at-once form [-]
    sheet : takes every line
    key : put before each key
    """
    brought, boards, zones = [], [], []
    for n, feed in enumerate(feeds, 1):
        at = f"{key}.feed.{n}"
        flow = sheet.work(
            f"{at}.flow",
            f"volume flow, {feed.name}",
            volume_flow_of,
            rate=feed.rate,
            density=feed.density,
        )
        brought.append(
            sheet.work(
                f"{at}.acceleration",
                f"load brought to speed, {feed.name}",
                feed_acceleration,
                volume_flow=flow,
                density=feed.density,
                speed=speed,
                feed_speed=feed.feed_speed,
            )
        )
        zone = sheet.work(
            f"{at}.zone",
            f"least feed zone, {feed.name}",
            feed_zone_length,
            speed=speed,
            feed_speed=feed.feed_speed,
            friction=feed.on_belt,
        )
        zones.append(zone)
        if feed.between is not None:
            boards.append(
                sheet.work(
                    f"{at}.boards",
                    f"boards of the feed zone, {feed.name}",
                    feed_zone_friction,
                    friction=feed.on_boards,
                    volume_flow=flow,
                    density=feed.density,
                    length=feed.length or zone,
                    speed=speed,
                    feed_speed=feed.feed_speed,
                    between=feed.between,
                )
            )
    wraps = [
        sheet.work(
            f"{key}.wrap.{n}",
            f"belt wrap, {p.name}",
            belt_wrap,
            factor=bending.factor,
            width=width,
            base=bending.base,
            share=bending.share,
            tension=p.tension,
            thickness=thickness,
            diameter=p.diameter,
        )
        for n, p in enumerate(pulleys, 1)
    ]
    bearings = [
        sheet.work(
            f"{key}.bearings.{n}",
            f"bearings, {p.name}",
            pulley_bearings,
            factor=bearing_factor,
            shaft=p.shaft,
            diameter=p.diameter,
            resultant=p.resultant,
        )
        for n, p in enumerate(pulleys, 1)
        if p.shaft is not None and p.resultant is not None
    ]
    parts = [*brought, *boards, *wraps, *bearings, *tilts]
    total = sheet.total(f"{key}.total", "secondary resistances, one by one", parts, Kind.FORCE)
    return SecondaryTerms(
        tuple(brought),
        tuple(boards),
        tuple(zones),
        tuple(wraps),
        tuple(bearings),
        tuple(tilts),
        total,
        sheet.work(
            f"{key}.by_coefficient",
            "secondary resistances, all at once",
            secondary_resistance,
            coefficient=coefficient,
            main=main,
        ),
        sheet.work(
            f"{key}.equal_coefficient",
            "C that equals the sum of the terms",
            equal_coefficient,
            secondary=total,
            main=main,
        )
        if main.value != 0
        else None,
    )
