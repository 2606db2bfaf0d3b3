"""Everything on this conveyor that can move or let go, and how each is made safe and proved.

The list is made from the conveyor file; it does not cover every site. Local law, site rules
and the maker's instructions take precedence, and a competent person must walk the machine.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from splicewright.plant import Conveyor, Environment, Side, TakeUpKind, Work
from splicewright.quantities import Sentence, sentence
from splicewright.tension import AtRest

DEFER = (
    "Local law, site rules and the maker's instructions take precedence; a competent person must "
    "check these numbers."
)


CLAMPS = "Set the restraining clamps"
LOAD = "load on the slope"
SLACKED, LIFTED = "Slack the take-up", "Lift and secure the counterweight"


@dataclass(frozen=True, slots=True)
class EnergySource:
    """One thing that can move or let go: what, how much, made safe how, proved how.

    known: False when the file does not say whether it is there and someone must look; later: title
    of the step that makes it safe, "" for what is locked, tagged and tried now; stays: left as it
    is, because nothing that it holds is loosened.
    """

    what: str
    how_much: Sentence
    make_safe: Sentence
    prove: Sentence
    known: bool = True
    later: str = ""
    stays: bool = False

    @property
    def lockable(self) -> bool:
        """Whether it is made safe at isolation itself, by a lock."""
        return not self.later and not self.stays


def energy_sources(conveyor: Conveyor, work: Work, stopped: AtRest) -> tuple[EnergySource, ...]:
    """List the energy sources of this conveyor for the isolation sheet."""
    sources = [
        *_drives(conveyor, stopped),
        _belt(conveyor, work, stopped),
        _take_up(conveyor, stopped),
    ]
    if stopped.run_back.most.value > 0:
        sources.append(
            EnergySource(
                LOAD,
                sentence(
                    "{pull} down the slope, {energy} to the foot of it (load share {share})",
                    pull=stopped.run_back.most,
                    energy=stopped.energies.load,
                    share=work.load_left,
                ),
                sentence(
                    "It was run empty before the lock-out, or stays: clamps on both sides of the "
                    "place, then unload from the top down, everyone out from below."
                ),
                sentence("Carry side seen empty along its whole length, or clamps seen holding."),
                later="Unload what is left",
            )
        )
    if conveyor.reversing:
        sources.append(
            EnergySource(
                "second direction of travel",
                sentence("The belt can be driven both ways."),
                sentence("Isolate both directions; one lock on the common supply is best."),
                sentence("Try both directions from every start."),
            )
        )
    sources.append(
        EnergySource(
            "conveyors that feed or take from this one",
            sentence("Not in the file."),
            sentence("Isolate the feeding conveyor, feeder or chute gate; block the chute."),
            sentence("Start the feeder from its own panel: it must not start."),
            known=False,
        )
    )
    sources.append(
        EnergySource(
            "hydraulic, air and spring energy (brakes, tensioners, gates, cleaners, ploughs)",
            sentence("Not in the file."),
            sentence("Shut, vent, lock; block what springs or weights can move."),
            sentence("Gauges at zero, valves locked, nothing moves by hand."),
            known=False,
        )
    )
    sources.append(
        EnergySource(
            "gauge with a source, metal detector, sprays, belt heating",
            sentence("Not in the file."),
            sentence("Gauge only by its authorised person; the others off, locked."),
            sentence("Shutter seen closed, locked; from the panel nothing comes on."),
            known=False,
        )
    )
    if Environment.MAGNETIC_SEPARATOR in work.environment:
        sources.append(
            EnergySource(
                "magnetic separator",
                sentence("Pulls steel plates, pins and tools out of the hand."),
                sentence("Isolate it too; a permanent magnet cannot be switched off: keep clear."),
                sentence("A steel washer on a string is not drawn in, or the zone is fenced."),
            )
        )
    if not work.job.clamped:
        sources = [_left_tight(source) for source in sources]
    # What is locked now stands first, in the order of its lines; what later steps make safe, last.
    return tuple(sorted(sources, key=lambda source: not source.lockable))


def _left_tight(source: EnergySource) -> EnergySource:
    """Where the belt is only looked at: what holds it stays as it is."""
    if source.lockable:
        return source
    if source.what == LOAD:
        return replace(
            source,
            later="",
            stays=True,
            make_safe=sentence(
                "Run the belt empty before anyone reaches in: a lock on the drive holds no load. "
                "While load lies on a slope, keep out."
            ),
            prove=sentence("Carry side seen empty along its whole length."),
        )
    return replace(
        source,
        later="",
        stays=True,
        make_safe=sentence("Stays as it is: nothing here is loosened. Fence it off."),
        prove=sentence("Seen at rest."),
    )


def _drives(conveyor: Conveyor, stopped: AtRest) -> list[EnergySource]:
    sources = []
    for drive in conveyor.drives:
        much = (
            sentence("{power} motor", power=drive.power)
            if drive.power is not None
            else sentence("motor power not stated")
        )
        sources.append(
            EnergySource(
                f"electric drive: {drive.name}",
                much,
                sentence(
                    "Stop, switch off at the isolator, lock and tag: one lock for each person. "
                    "Pull cord or control switch is no isolation."
                ),
                sentence("Try to start from every start; test dead where the site requires it."),
            )
        )
    for drive, says in zip(conveyor.drives, stopped.holds, strict=True):
        known = drive.holdback is not None and drive.brake is not None
        sources.append(
            EnergySource(
                f"what holds the belt at {drive.name}",
                says,
                sentence("Clamps on before anything is loosened: they hold the belt."),
                sentence("Chains snug, marks on the belt at each clamp."),
                known=known,
                later=CLAMPS,
            )
        )
    return sources


def _release_title(conveyor: Conveyor) -> str:
    return LIFTED if conveyor.take_up.kind is TakeUpKind.GRAVITY else SLACKED


def _belt(conveyor: Conveyor, work: Work, stopped: AtRest) -> EnergySource:
    return EnergySource(
        "tension in the belt",
        sentence(
            "up to {force} at the place of work ({per_width}); {energy} stored in the belt",
            force=stopped.bounds.acting.largest,
            per_width=stopped.acting_per_width,
            energy=stopped.energies.belt,
        ),
        sentence(
            "Restraining clamps on both sides of the place, each rated {rating} or more, chained "
            "to structure; then release the take-up.",
            rating=stopped.ratings.clamps,
        ),
        sentence("The belt between the clamps hangs slack before it is opened.")
        if work.job.plated
        else sentence("Belt slack at the take-up pulley; it is never cut across."),
        later="Take up the chains" if work.job.plated else _release_title(conveyor),
    )


def _take_up(conveyor: Conveyor, stopped: AtRest) -> EnergySource:
    take_up, moved = conveyor.take_up, stopped.movement
    held = stopped.bounds.acting.largest
    if take_up.kind is TakeUpKind.GRAVITY:
        stored = stopped.energies
        assert stored.hangs is not None and stored.weight is not None  # of every counterweight
        much = (
            sentence(
                "{mass}, {energy} if it falls its whole travel",
                mass=take_up.mass,
                energy=stored.weight,
            )
            if take_up.mass is not None
            else sentence(
                "a counterweight of unknown mass: find its plate. Taken as {weight}; {energy} if "
                "it falls its whole travel",
                weight=stored.hangs,
                energy=stored.weight,
            )
        )
        return EnergySource(
            "counterweight",
            much,
            sentence(
                "Clamps first. Then lift it by up to {lift}, hang it on rated chains and block it "
                "from below without a gap; keep everybody out from under it.",
                lift=moved.weight if moved.weight is not None else moved.lift,
            ),
            sentence("Belt slack at the take-up pulley, weight seen hanging and blocked."),
            later=LIFTED,
        )
    unsure = "" if take_up.force is not None else " (pull not known: high end taken, MEASURE it)"
    if take_up.kind is TakeUpKind.WINCH:
        return EnergySource(
            "take-up winch",
            sentence("holds up to {force} in the belt at the place" + unsure, force=held),
            sentence(
                "Clamps first. Slack the rope off by up to {lift}, in control, then isolate "
                "and lock the winch.",
                lift=moved.lift,
            ),
            sentence("Rope slack; winch does not start."),
            later=SLACKED,
        )
    return EnergySource(
        "screw take-up",
        sentence("holds up to {force} in the belt at the place" + unsure, force=held),
        sentence(
            "Clamps first. Measure and write down both screws, then slack them evenly, "
            "alternately, by up to {lift}. Stop if a mark at a clamp moves.",
            lift=moved.lift,
        ),
        sentence("Belt slack at the take-up pulley; both screws carry no load."),
        later=SLACKED,
    )


def slopes(conveyor: Conveyor) -> bool:
    """Whether any carry run rises or falls."""
    return any(abs(r.rise.value) > 0.01 for r in conveyor.runs() if r.side is Side.CARRY)
