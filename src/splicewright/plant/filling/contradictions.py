"""What no conveyor can be: contradictions between fields, each refused by the field's name."""

from __future__ import annotations

from splicewright.errors import Fault
from splicewright.plant.conveyor import Conveyor, CrownShape, Side, slug
from splicewright.quantities import show

_CLOSES = 0.002
"""How far the loop may miss closing in height, as a share of its length, and still be taken
as rounding; also 50 mm at the least."""


def what_cannot_be(conveyor: Conveyor) -> list[Fault]:
    """Every contradiction between the fields of a filled conveyor; empty when there is none."""
    faults = []
    runs, pulleys = conveyor.runs(), conveyor.pulleys()
    if len(pulleys) < 2 or len(runs) < 2:
        return [
            Fault(
                "loop",
                f"has {len(pulleys)} pulleys and {len(runs)} runs; a closed loop needs "
                "two of each or more",
            )
        ]
    if not any(r.side is Side.CARRY for r in runs):
        faults.append(Fault("loop", 'has no run with side = "carry"; a conveyor carries somewhere'))
    # Names become keys of the worksheet: spelling alone does not tell two of them apart.
    names = [slug(e.name) for e in conveyor.loop]
    faults += [
        Fault(f"loop.{n}", f'the name "{e.name}" stands twice; each needs its own')
        for n, e in enumerate(conveyor.loop, 1)
        if names[n - 1] in names[: n - 1]
    ]
    for run in runs:
        if abs(run.rise.value) > run.length.value * (1 + 1e-9):
            faults.append(
                Fault(
                    run.rise.key,
                    f"{run.name} rises {run.rise.show()} on a length of "
                    f"{run.length.show()}; a run cannot rise by more than its length",
                )
            )
    rise = sum(r.rise.value for r in runs)
    length = sum(r.length.value for r in runs)
    if abs(rise) > max(0.05, _CLOSES * length):
        faults.append(
            Fault(
                "loop",
                f"does not close: the rises add up to {rise:.2f} m instead of 0; "
                "check the sign of each rise (down is negative)",
            )
        )
    longest = max(r.length.value for r in runs)
    for pulley in pulleys:
        if pulley.diameter.value > longest:
            faults.append(
                Fault(
                    pulley.diameter.key,
                    f"{pulley.name} of {pulley.diameter.show()} is "
                    f"larger than the longest run, {longest:.2f} m",
                )
            )
    faults += _wider_than_the_belt(conveyor)
    most = 0.5 * conveyor.belt.strength.high * conveyor.belt.width.value
    most *= conveyor.take_up.strands
    for entry, limit in ((conveyor.take_up.mass, most / 9.81), (conveyor.take_up.force, most)):
        if entry is not None and entry.value > limit:
            faults.append(
                Fault(
                    entry.key,
                    f"{entry.show()} would load the belt beyond half its strength; believable is "
                    f"up to {show(limit, entry.kind)}",
                )
            )
    return faults


def _wider_than_the_belt(conveyor: Conveyor) -> list[Fault]:
    """Middle rolls and crowns that do not fit under the belt."""
    width = conveyor.belt.width
    wording = f"the belt is {width.show()} wide"
    middles = (r.idlers.middle for r in conveyor.runs())
    parts = list({m.key: m for m in middles if m is not None}.values())
    faults = []
    for pulley in conveyor.pulleys():
        crown = pulley.crown
        if crown is None:
            continue
        parts.append(crown.flat)
        if crown.shape is CrownShape.ARC and crown.flat.value > 0:
            faults.append(
                Fault(crown.flat.key, "is stated for an arc; a cylinder in the middle is for cones")
            )
        if crown.height.value > pulley.diameter.value / 10:
            faults.append(
                Fault(
                    crown.height.key,
                    f"{crown.height.show()} on a pulley of {pulley.diameter.show()} is no crown; "
                    "accepted is up to a tenth of the diameter (radius in the middle less radius "
                    "at the edges)",
                )
            )
    return faults + [
        Fault(part.key, f"{part.show()} does not lie under the belt; {wording}")
        for part in parts
        if part.value > width.value
    ]
