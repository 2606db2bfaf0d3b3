"""How far things move: what the take-up must give, how far hoists travel, what stays tight."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from splicewright.plant import Run, TakeUpKind
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
from splicewright.tension.at_rest.bounds import Bounds
from splicewright.tension.at_rest.rest import Rest
from splicewright.tension.at_rest.strand import Profile, Span, Strand, profile
from splicewright.tension.at_rest.strands import end_of
from splicewright.tension.resistance.main import GRAVITY


@dataclass(frozen=True, slots=True)
class Movement:
    """How far what is moved moves, at most [m].

    slack: belt wanted at the place; sag: belt that hangs between idlers and is lost to it;
    shrinks: by which the belt shortens as its tension goes; stretches: of the drawn strands;
    hoists: travel of the hoists; take_up: belt the take-up must give; lift: of its pulley;
    weight: of a reeved counterweight, None without one; there: belt it can give; enough: whether
    that suffices; remains: tension that friction may keep at the place; seen: sag of the belt
    there at that tension, measured between two idlers.
    """

    slack: Figure
    sag: Figure
    shrinks: Figure
    stretches: Figure
    hoists: Figure
    take_up: Figure
    lift: Figure
    weight: Figure | None
    there: Figure
    enough: bool
    remains: Figure
    seen: Figure
    says: tuple[Sentence, ...]

    @property
    def short(self) -> Sentence:
        """What is done where the take-up may not give enough; only where it is not enough."""
        return self.says[4]


MOVEMENTS = ("slack", "sag", "shrinks", "stretches", "hoists", "take_up", "lift", "weight", "there")
"""The movements that are lengths of belt or travel, by their names."""


@formula(
    "x = max(s, b)",
    gives=("x", Kind.DISTANCE),
    symbols={"needed": "s", "bight": "b"},
    source="practice",
    limits="what closes the joint, and a bight to open it",
)
def slack_wanted(needed: Number, bight: Number) -> Number:
    """Belt that must come to the place of work [m]: to close the joint, or to open it."""
    return np.maximum(needed, bight)


@formula(
    "s_g = (8/3) Σ ∫ y² dl,  y = min(y_c, q_B g a/(8 T))",
    gives=("s_g", Kind.DISTANCE),
    symbols={
        "most": "y_c",
        "belt": "q_B",
        "spacing": "a",
        "length": "l",
        "entering": "T_1",
        "leaving": "T_2",
    },
    source="sag",
    limits="parabola; T rising straight along each run from T_1 to T_2, the least while it is "
    "drawn; y over the spacing of the idlers, no more than where it lies on what is below it",
)
def belt_in_sag(
    most: Number, belt: Number, spacing: Number, length: Number, entering: Number, leaving: Number
) -> Number:
    """Belt that a slack strand takes for its sag between idlers.

    Parameters
    ----------
    most : largest sag over the spacing [-]
    belt : mass per length [kg/m]
    spacing : of the idlers [m]
    length, entering, leaving : of each run, its tensions at both ends [m], [N], shape (..., runs)

    Returns
    -------
    float or array [m]
    """
    hang = np.asarray(belt * GRAVITY * spacing / 8, dtype=np.float64)
    knee = hang / most  # below this tension the belt lies on what is below it
    low, high = np.minimum(entering, leaving), np.maximum(entering, leaving)
    rise = np.maximum(high - low, 1e-9)
    flat = np.clip((knee - low) / rise, 0.0, 1.0)
    begin = np.maximum(low, knee)
    curved = hang**2 * np.maximum(1 / begin - 1 / np.maximum(high, begin), 0.0) / rise
    return 8 / 3 * np.sum(length * (most**2 * flat + curved), axis=-1)[()]


@formula(
    "ΔL = Σ l (T_1 + T_2)/(2 M B)",
    gives=("ΔL", Kind.DISTANCE),
    symbols={"pull": "Σ l (T_1 + T_2)/2", "modulus": "M", "width": "B"},
    source="elastic",
    limits="linear belt, the soft end of its modulus, the largest tensions everywhere at once",
)
def stretch_of(pull: Number, modulus: Number, width: Number) -> Number:
    """Stretch of belt from its tension times its length [N m].

    Parameters
    ----------
    pull : mean tension times length, summed over the pieces [N m]
    modulus : per width [N/m]
    width : [m]

    Returns
    -------
    float or array [m]
    """
    return pull / (modulus * width)


@formula(
    "x = ΔL/n_s",
    gives=("x", Kind.DISTANCE),
    symbols={"belt": "ΔL", "strands": "n_s"},
    source="geometry",
)
def lift_of_take_up(belt: Number, strands: Number) -> Number:
    """Way of the take-up pulley that gives so much belt [m]."""
    return belt / strands


@formula(
    "x_w = r x",
    gives=("x_w", Kind.DISTANCE),
    symbols={"reeving": "r", "lift": "x"},
    source="geometry",
    limits="the rope over its sheaves moves the weight r times as far as the pulley",
)
def lift_of_weight(reeving: Number, lift: Number) -> Number:
    """Lift of a reeved counterweight [m] from the way of its take-up pulley [m]."""
    return reeving * lift


@formula(
    "y = q_B g a²/(8 T)",
    gives=("y", Kind.LENGTH),
    symbols={"belt": "q_B", "spacing": "a", "tension": "T"},
    source="sag",
    limits="empty belt between two idlers, parabola; at most a quarter of the spacing",
)
def sag_seen(belt: Number, spacing: Number, tension: Number) -> Number:
    """Sag of the belt between two idlers at a tension [m].

    Parameters
    ----------
    belt : mass per length [kg/m]
    spacing : [m]
    tension : [N]
    """
    hanging = belt * GRAVITY * spacing**2 / 8
    return np.minimum(hanging / np.maximum(tension, 1.0), spacing / 4)


def movement(
    rest: Rest,
    run: Run,
    along: Figure,
    bounds: Bounds,
    needed: Figure | None,
    there: Figure,
    sheet: Worksheet,
) -> Movement:
    """How far take-up and hoists move to bring slack to a place.

    Parameters
    ----------
    rest : the stopped conveyor
    run, along : where the place is
    bounds : the forces there
    needed : belt the hoists must bring so that the joint closes [m]; None where the belt stays in
        one piece, and no slack is drawn
    there : belt the take-up can give on its way to its slack end [m]
    sheet : takes the lines
    """
    conveyor = rest.conveyor
    strands = rest.loop.behind(run.name, along.value), rest.loop.ahead(run.name, along.value)
    slack = (
        sheet.total("at_rest.slack", "slack wanted at the place", [], Kind.DISTANCE)
        if needed is None
        else sheet.work(
            "at_rest.slack",
            "slack wanted at the place",
            slack_wanted,
            needed=needed,
            bight=assuming("at_rest.bight", "bight for opening the belt", assume.BIGHT),
        )
    )
    sag = _sag(rest, [s for s in strands if s.free] or list(strands), sheet)
    shrinks = _stretch(
        "at_rest.shrinks", "belt shortens as its tension goes", _pull_acting(rest), rest, sheet
    )
    stretches = _stretch(
        "at_rest.stretches",
        "drawn strands stretch",
        _pull_drawn(rest, strands, bounds.draw.largest.value),
        rest,
        sheet,
    )
    hoists = sheet.total("at_rest.hoist_travel", "travel of the hoists", [slack, sag, stretches])
    gives = sheet.total(
        "at_rest.take_up_gives", "belt the take-up must give", [slack, sag, shrinks]
    )
    lift = sheet.work(
        "at_rest.lift",
        "way of the take-up pulley",
        lift_of_take_up,
        belt=gives,
        strands=float(conveyor.take_up.strands),
    )
    weight = None
    if conveyor.take_up.kind is TakeUpKind.GRAVITY:
        weight = sheet.work(
            "at_rest.weight_lift",
            "lift of the counterweight",
            lift_of_weight,
            reeving=conveyor.take_up.reeving,
            lift=lift,
        )
    enough = bool(np.all(np.asarray(there.value) >= np.asarray(gives.value)))
    remains = bounds.released.largest
    seen = sheet.work(
        "at_rest.seen",
        f"sag of the belt on {run.name} at that tension, between two idlers",
        sag_seen,
        belt=end_of(conveyor.belt.line_mass, "low"),
        spacing=run.idlers.spacing,
        tension=remains,
    )
    return Movement(
        slack,
        sag,
        shrinks,
        stretches,
        hoists,
        gives,
        lift,
        weight,
        there,
        enough,
        remains,
        seen,
        (),
    )


def movement_says(
    moved: Movement, kind: TakeUpKind, acting: Figure, hoist: Given | None, *, opened: bool
) -> tuple[Sentence, ...]:
    """What the movements mean for the crew, in their order; opened: whether the belt is."""
    pulley = "counterweight" if kind is TakeUpKind.GRAVITY else "take-up"
    way = moved.weight if moved.weight is not None else moved.lift
    sentences = [
        sentence(
            "Slack comes to the take-up first, not to the place: friction and weight may keep "
            "up to {remains} here after the take-up is released. "
            + (
                "Pull slack with the hoists before anything is opened."
                if opened
                else "The belt stays in one piece: it is not drawn slack, and never cut across."
            ),
            remains=moved.remains,
        ),
        sentence(
            "How to see it: by the sag of the belt between two idlers at the place. {seen} or more "
            "means no more than that tension; less sag means more tension.",
            seen=moved.seen,
        ),
        sentence(
            "As the take-up is released the belt between the clamps pulls them towards the place, "
            "with up to {acting} at first. Chains that only hold away from the place let them "
            "creep; a clamp fixed both ways must carry it.",
            acting=acting,
        ),
        sentence(
            f"The {pulley} moves up to {{way}} ({{gives}} of belt): {{slack}} for the place, the "
            "rest is stretch and sag. The hoists travel up to {hoists}."
            if opened
            else f"The {pulley} moves up to {{way}} ({{gives}} of belt), for stretch and sag.",
            way=way,
            gives=moved.take_up,
            slack=moved.slack,
            hoists=moved.hoists,
        ),
    ]
    if not moved.enough:
        sentences.append(
            sentence(
                "The take-up may not give enough: with stretch and sag up to {gives} is needed, "
                "{there} available. "
                + (
                    "Take what it gives, set the clamps anew and pull again; what is then still "
                    "missing is belt to be inserted."
                    if opened
                    else "If the belt is still tight at the end of its travel: stop, and let a "
                    "competent person decide whether it can be mended so."
                ),
                gives=moved.take_up,
                there=moved.there,
            )
        )
    if opened and hoist is not None and hoist.low < moved.hoists.value:
        sentences.append(
            sentence(
                "The hoists have {there} of travel, up to {wanted} is wanted: draw, take the "
                "chains up until they bear, hook the hoists again, draw on.",
                there=hoist,
                wanted=moved.hoists,
            )
        )
    return tuple(sentences)


def _pull_acting(rest: Rest) -> Number:
    """Tension times length of the whole stopped belt, the take-up acting, at most [N m]."""
    start, whole = rest.holds.largest.value, rest.loop.whole
    if rest.holds.fixed:  # the mean is kept, wherever friction gathers it
        return start * np.sum(whole.length, axis=-1)
    ways = profile(whole, rest.unknown, start), profile(whole.turned(), rest.unknown, start)
    there, back = ((p.entering + p.leaving) / 2 for p in ways)
    return np.sum(whole.length * np.minimum(there, back[..., ::-1]), axis=-1)[()]


def _pull_drawn(rest: Rest, strands: tuple[Strand, Strand], draw: Number) -> Number:
    """Tension times length of both strands while they are drawn, at most [N m].

    Each has the tension it moves at, and no more than the hoists pull.
    """
    total: Number = 0.0
    most = np.asarray(draw)[..., np.newaxis]
    for strand in strands:
        tensions = profile(strand, rest.unknown, 0.0)
        capped = Profile(np.minimum(tensions.entering, most), np.minimum(tensions.leaving, most))
        total = total + _area(strand, capped)
    return total


def _sag(rest: Rest, drawn: list[Strand], sheet: Worksheet) -> Figure:
    """Belt lost in the sag of the strand that takes most of it."""
    conveyor = rest.conveyor
    runs = {r.name: r for r in conveyor.runs()}
    light = replace(
        rest.unknown,
        belt=Span(rest.unknown.belt.low, rest.unknown.belt.low),
        metres=0.0,
        friction=Span(rest.unknown.friction.low, rest.unknown.friction.low),
    )
    most = end_of(assuming("at_rest.slack_sag", "sag of slack belt", assume.SLACK_SAG), "high")
    belt = end_of(conveyor.belt.line_mass, "high")
    sags = []
    for strand in drawn:
        along = profile(strand, light, 0.0, held=False)
        on = [n for n, name in enumerate(strand.names) if name in runs]
        spacing = np.stack(
            np.broadcast_arrays(*(runs[strand.names[n]].idlers.spacing.value for n in on)), axis=-1
        )
        sags.append(
            belt_in_sag(
                most.value,
                _column(belt.value),
                spacing,
                strand.length[..., on],
                along.entering[..., on],
                along.leaving[..., on],
            )
        )
    return sheet.found(
        "at_rest.sag",
        "belt lost in the sag of the slack strand",
        np.max(np.stack(np.broadcast_arrays(*sags)), axis=0)[()],
        Kind.DISTANCE,
        belt_in_sag.text,
        [most, belt, *(r.idlers.spacing for r in runs.values())],
        "sag",
    )


def _column(number: Number) -> Number:
    array = np.asarray(number, dtype=np.float64)
    return array[..., np.newaxis] if array.ndim else array


def _area(strand: Strand, tensions: Profile) -> Number:
    return np.sum(strand.length * (tensions.entering + tensions.leaving) / 2, axis=-1)[()]


def _stretch(key: str, label: str, pull: Number, rest: Rest, sheet: Worksheet) -> Figure:
    belt = rest.conveyor.belt
    return sheet.work(
        key, label, stretch_of, pull=pull, modulus=end_of(belt.modulus, "low"), width=belt.width
    )
