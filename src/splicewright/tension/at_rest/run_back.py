"""Which way the load of a stopped belt pulls the uncut loop, how hard, and whether it moves.

The belt's own weight balances round the loop; the load does not. Each way is worked with the load
where it pulls most, without friction (what must be held), with the least friction that may be
credited (whether it may move) and with the most (whether it surely moves).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.plant import Conveyor, Run, Side
from splicewright.plant import assumptions as assume
from splicewright.plant.filling.origin import assuming
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Number,
    Sentence,
    Worksheet,
    formula,
    sentence,
)
from splicewright.tension.at_rest.load_spread import loaded_pieces, worst_rise, worst_shares
from splicewright.tension.resistance.main import GRAVITY


@dataclass(frozen=True, slots=True)
class OneWay:
    """The load pulling the uncut loop one way [N].

    pull: nothing credited; may_move: left over with the least friction; sure_to_move: left over
    with the most; rise: height over which the load pulls [m]; loaded: where it lies then.
    """

    name: str
    pull: Figure
    may_move: Figure
    sure_to_move: Figure
    rise: Figure
    loaded: str


@dataclass(frozen=True, slots=True)
class RunBack:
    """Both ways, and the load spread evenly, positive backwards [N]."""

    back: OneWay
    forward: OneWay
    even: Figure
    most: Figure
    says: Sentence


@formula(
    "F_rb = g q_G Σ x h",
    gives=("F_rb", Kind.FORCE),
    symbols={"load": "q_G", "rise": "Σ x h"},
    source="statics",
    limits="net pull of the load on the uncut loop, lying where it pulls most; no friction "
    "credited",
)
def run_back_force(load: Number, rise: Number) -> Number:
    """Pull of the load that would run the uncut belt away when nothing holds it.

    Parameters
    ----------
    load : full load per length [kg/m]
    rise : height over which full load pulls that way [m]

    Returns
    -------
    float or array, not negative [N]
    """
    return GRAVITY * load * np.maximum(0.0, rise)


@formula(
    "F = max(0, g q_G h_f - g f m_0)",
    gives=("F", Kind.FORCE),
    symbols={"load": "q_G", "rise": "h_f", "friction": "f", "empty": "m_0"},
    source="statics",
    limits="h_f is the height less f times the way across the slope; m_0 all belt and rolls, "
    "at most; no C credited",
)
def left_over(load: Number, rise: Number, friction: Number, empty: Number) -> Number:
    """What is left of the load's pull when friction holds against it.

    Parameters
    ----------
    load : full load per length [kg/m]
    rise : height over which the load pulls, less its own friction [m]
    friction : factor f of belt and rolls [-]
    empty : mass of belt and turning rolls of the loop [kg]

    Returns
    -------
    float or array, 0 where friction holds [N]
    """
    return np.maximum(0.0, GRAVITY * (load * rise - friction * empty))


@formula(
    "F = g k q_G Σ h",
    gives=("F", Kind.FORCE),
    symbols={"load": "q_G", "share": "k", "rise": "Σ h"},
    source="statics",
    limits="load spread evenly; positive backwards",
)
def even_pull(load: Number, share: Number, rise: Number) -> Number:
    """Pull of evenly spread load on the uncut loop, positive against the travel.

    Parameters
    ----------
    load : full load per length [kg/m]
    share : of it on the belt [-]
    rise : lift of the carry side [m]

    Returns
    -------
    float or array [N]
    """
    return GRAVITY * share * load * rise


def run_back(conveyor: Conveyor, share: Given, sheet: Worksheet) -> RunBack:
    """Work out which way the load pulls the standing, uncut belt.

    Parameters
    ----------
    conveyor : the plant
    share : of the full load that is on the belt, wherever it lies [-]
    sheet : takes every line
    """
    carry = [r for r in conveyor.runs() if r.side is Side.CARRY]
    metres = load_metres(conveyor, share)
    least = assuming(
        "run_back.least_friction",
        "least friction factor of a belt that runs away",
        assume.LEAST_FRICTION,
    )
    most = conveyor.method.standing_friction
    empty = sheet.found(
        "run_back.empty",
        "mass of belt and turning rolls of the loop",
        sum(
            r.length.value * (r.idlers.line_mass.value + conveyor.belt.line_mass.value)
            for r in conveyor.runs()
        ),
        Kind.MASS,
        "sum of length times belt and rolls per metre, all runs",
        [conveyor.belt.line_mass, *(r.length for r in conveyor.runs())],
    )
    ways = [
        _one_way(name, sign, carry, metres, (least, most), empty, share, conveyor, sheet)
        for name, sign in (("back", 1.0), ("forward", -1.0))
    ]
    lift = sheet.total(
        "run_back.lift",
        "lift of the carry side",
        [sheet.note(r.rise) for r in carry],
        Kind.DISTANCE,
    )
    even = sheet.work(
        "run_back.even",
        "pull of the load spread evenly, backwards positive",
        even_pull,
        load=conveyor.material.line_mass,
        share=share,
        rise=lift,
    )
    largest = sheet.largest(
        "run_back.most", "pull of the load, the way it pulls most", [w.pull for w in ways]
    )
    return RunBack(ways[0], ways[1], even, largest, _says(ways[0], ways[1]))


def load_metres(conveyor: Conveyor, share: Figure) -> float:
    """Metres of full load that are left on the belt [m]."""
    return share.value * sum(r.length.value for r in conveyor.runs() if r.side is Side.CARRY)


def _one_way(
    name: str,
    sign: float,
    carry: list[Run],
    metres: float,
    frictions: tuple[Given, Given],
    empty: Figure,
    share: Given,
    conveyor: Conveyor,
    sheet: Worksheet,
) -> OneWay:
    lengths = [r.length.value for r in carry]
    rises = [sign * r.rise.value for r in carry]
    across = [(max(r.length.value**2 - r.rise.value**2, 0.0)) ** 0.5 for r in carry]
    key, word = f"run_back.{name}", {"back": "backwards", "forward": "forwards"}[name]
    parts: list[Figure] = [share, *(r.rise for r in carry), *(r.length for r in carry)]
    load = conveyor.material.line_mass
    rise, shares = worst_rise(
        f"{key}.rise",
        f"height over which the load pulls {word}",
        rises,
        lengths,
        metres,
        parts,
        sheet,
    )
    pull = sheet.work(
        key, f"pull of the load {word}, nothing credited", run_back_force, load=load, rise=rise
    )
    left = []
    for which, label, friction in zip(
        ("may_move", "sure_to_move"), ("least", "most"), frictions, strict=True
    ):
        net = [h - friction.value * a for h, a in zip(rises, across, strict=True)]
        filled = worst_shares(net, lengths, metres)
        height = sheet.found(
            f"{key}.{which}.rise",
            f"the same less the load's own {label} friction",
            float(np.sum(filled * np.asarray(net))),
            Kind.DISTANCE,
            "height less f times the way across the slope, the pieces that gain most full first",
            [*parts, friction],
        )
        left.append(
            sheet.work(
                f"{key}.{which}",
                f"left of the pull {word} with the {label} friction",
                left_over,
                load=load,
                rise=height,
                friction=friction,
                empty=empty,
            )
        )
    loaded = loaded_pieces([r.name for r in carry], shares.tolist())
    return OneWay(word, pull, left[0], left[1], rise, loaded)


def _says(back: OneWay, forward: OneWay) -> Sentence:
    """Which way the belt wants to go, in one sentence."""
    sure = [w for w in (back, forward) if w.sure_to_move.value > 0]
    may = [w for w in (back, forward) if w.may_move.value > 0]
    if len(sure) == 2:
        return sentence(
            "If nothing holds it, the belt runs away backwards or forwards, by where the load "
            "lies: {back} or {forward} is left over the least friction.",
            back=back.may_move,
            forward=forward.may_move,
        )
    if len(may) == 2:
        return sentence(
            "If nothing holds it, the belt may run away either way, by where the load lies: up "
            "to {back} backwards, {forward} forwards over the least friction.",
            back=back.may_move,
            forward=forward.may_move,
        )
    if may:
        way, verb = may[0], "runs away" if sure else "may run away"
        return sentence(
            f"If nothing holds it, the belt {verb} {way.name} with load on {way.loaded}: "
            f"{{left}} is left over the least friction.",
            left=way.may_move,
        )
    if max(back.pull.value, forward.pull.value) > 0:
        return sentence(
            "Even the least friction holds the load; do not rely on it: a jerk, a vibration or "
            "wet idlers set the belt moving."
        )
    return sentence("The load pulls the uncut belt neither way.")
