"""Bolts and the smallest pulley in words and numbers, for the dossier."""

from __future__ import annotations

from typing import Any

from splicewright.job import BoltWork, JointLoads, OnPulley, Spread
from splicewright.joint.loads.bolts import KEPT_CLAMP
from splicewright.quantities import Kind, System, show


def bolts_and_pulley(loads: JointLoads, system: System) -> dict[str, Any]:
    """Everything the page says, as texts."""
    bolts, pulley = loads.bolts, loads.pulley
    return {
        "bolts": [] if bolts is None else _bolts(bolts, system),
        "bolt_remarks": [] if bolts is None else [s.say(system) for s in bolts.remarks],
        "pulley": [] if pulley is None else _pulley(pulley, system),
        "pulley_remarks": [] if pulley is None else [s.say(system) for s in pulley.remarks],
    }


def going_over(loads: JointLoads, system: System) -> list[dict[str, str]]:
    """When the nuts are gone over again: rows of the follow-up page."""
    bolts = loads.bolts
    if bolts is None:
        return []
    if bolts.rules:
        times = ", ".join(rule.show(system) for rule in bolts.rules)
        return [
            {
                "what": "Go over all nuts, rule of the range",
                "when": f"after {times} of running",
                "why": "range data",
            }
        ]
    kept = show(KEPT_CLAMP, Kind.SHARE)
    return [
        {
            "what": "Go over all nuts before full load",
            "when": f"within {bolts.again.low.show(system)} of tightening",
            "why": f"where rubber gives most the clamp force is then down to {kept}; typically "
            f"{bolts.again.typical.show(system)}. Assumed, the range states no time",
        }
    ]


def torque_row(loads: JointLoads, system: System) -> list[dict[str, Any]]:
    """What to measure against where the range states no torque."""
    bolts = loads.bolts
    if bolts is None or "torque" in bolts.stated:
        return []
    low, high = bolts.torque.low.show(system), bolts.torque.high.show(system)
    return [
        {
            "what": f"Torque, three bolts: maker's value goes; {low} to {high} is only reckoned",
            "planned": "maker's value",
            "boxes": 3,
        }
    ]


def _bolts(bolts: BoltWork, system: System) -> list[list[str]]:
    stated = f"range: {bolts.stated}" if bolts.stated else "not stated: reckoned, no setting"
    rows = [
        _row("torque of a nut", bolts.torque, system, stated),
        _row("nut factor", bolts.nut_factor, system, "from the friction of thread and nut"),
        _row("clamp force of a bolt, tightened", bolts.clamp, system, stated),
        _row("tension in the bolt then", bolts.stress, system, "compare with the bolt's class"),
        _row("clamp force after the first run", bolts.settled, system, "rubber gives way"),
        _row("friction holds, of one plate", bolts.grip, system, "both covers, settled"),
        _row("left to teeth and shanks", bolts.teeth, system, "of the plate that carries most"),
    ]
    for label, time in (
        (f"clamp force down to {show(KEPT_CLAMP, Kind.SHARE)}", bolts.again),
        ("the same, gone over after the first run", bolts.after_that),
    ):
        typical, soonest = time.typical.show(system), time.low.show(system)
        rows.append([label, typical, f"{soonest} at the soonest", "after so much time"])
    return rows


def _row(name: str, value: Spread, system: System, note: str) -> list[str]:
    span = ""
    if value.open:
        span = f"{value.low.show(system)} to {value.high.show(system)}"
    return [name, value.typical.show(system), span, note]


def _pulley(pulley: OnPulley, system: System) -> list[list[str]]:
    rows = [
        ["smallest pulley", pulley.diameter.show(system), pulley.pulley],
        ["stiff length of the plates", pulley.stiff.show(system), "range data"],
        ["stiff length over diameter", pulley.over_diameter.show(system), ""],
        ["plate off the round in its middle", pulley.sagitta.show(system), ""],
    ]
    if pulley.angle is not None:
        limit = "no limit stated"
        if pulley.allowed is not None and pulley.smallest is not None:
            limit = f"range: {pulley.allowed.show(system)}, kept from a pin circle of "
            limit += pulley.smallest.show(system)
        rows.append(["the hinge opens to", pulley.angle.show(system), limit])
    return rows
