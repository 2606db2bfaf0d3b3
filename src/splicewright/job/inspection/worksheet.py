"""The worksheet of an assessment: how each of its numbers came about."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.job.inspection.joined_belt import JoinedBelt
from splicewright.joint import End
from splicewright.joint.choice.verdict import permitted
from splicewright.joint.inspection.plate_condition import kept_by_bolts, kept_by_pin
from splicewright.joint.inspection.seen import Inspection
from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.loads.hinge import STEEL, pin_bending
from splicewright.joint.loads.making_limits import plate_rating
from splicewright.joint.loads.stiffness import (
    PIN_OF_WIRES,
    PIN_OVER_PITCH,
    assumed_plate_stiffness,
)
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Record,
    Worksheet,
    assumed,
    key_of,
    measured,
    stated,
)

if TYPE_CHECKING:
    from splicewright.job.inspection.joint_assessment import JointAssessment

_WORKED = (
    "both belt ends in finite elements, plates as springs that pull and never push, a hinge pin as "
    "a bar between them"
)


def explained(
    assessment: JointAssessment, seen: Inspection, joined: JoinedBelt, cases: int, breaking: float
) -> Record:
    """Write the lines of a finished assessment.

    assessment : without its worksheet
    seen, joined : what it was made of
    cases : how many sets of assumptions were worked
    breaking : tension at which sound plates fail [N/m]
    Returns the lines of the assessment and all that they rest on.
    """
    sheet = Worksheet(joined.record)
    width = stated("assess.width", "belt width at the joint", joined.width, Kind.LENGTH)
    count = stated("assess.plates", "plates of one end", float(joined.plates), Kind.COUNT)
    rated = stated("assess.rated", "rated tension of the fastener", joined.rated, Kind.WIDTH_FORCE)
    even = sheet.work(
        "assess.plate_rating",
        "even share of the rating, one plate",
        plate_rating,
        rated=rated,
        width=width,
        count=count,
    )
    rating = sheet.work(
        "assess.permitted",
        "pull a sound plate may carry",
        permitted,
        evenness=joined.evenness,
        rating=even,
    )
    running, starting = _tensions(joined, sheet)
    peak = sheet.found(
        "assess.peak",
        "largest pull over the running pull",
        assessment.peak,
        Kind.RATIO,
        "starting over running tension, not below 1",
        [starting, running],
    )
    fails = _breaking(seen, joined, breaking, rated, sheet)
    pins = [_pin(seen, joined, sheet)] if joined.hinged else []
    stiff = assumed_plate_stiffness(joined.rated_pull)
    rests = [running, width, count, rating, joined.modulus, stiff, *pins]
    kept = _kept(seen, joined, sheet)
    for end in End:
        _plates(assessment, end, cases, [*rests, *kept.get(end, ())], sheet)
    _answers(
        assessment,
        cases,
        [*rests, *(k for some in kept.values() for k in some)],
        peak,
        fails,
        sheet,
    )
    return _needed(sheet.finish())


def _tensions(joined: JoinedBelt, sheet: Worksheet) -> tuple[Figure, Figure]:
    figures = []
    for name, value in (("running", joined.running), ("starting", joined.starting)):
        key, label = f"assess.{name}", f"largest {name} tension at the joint"
        asked = sheet.get(f"demand.{name}")
        if asked is None:
            figures.append(sheet.note(stated(key, label, value, Kind.WIDTH_FORCE)))
            continue
        whole = sheet.get("belt.width")
        rests = [asked] if whole is None else [asked, whole]
        figures.append(
            sheet.found(
                key,
                label,
                value,
                Kind.WIDTH_FORCE,
                "governing tension of the loop; on a belt worn narrower the same pull is "
                "more per width",
                rests,
            )
        )
    return figures[0], figures[1]


def _breaking(
    seen: Inspection, joined: JoinedBelt, breaking: float, rated: Figure, sheet: Worksheet
) -> Figure:
    key, label = "assess.breaking", "tension at which sound plates fail"
    if seen.breaking is not None:
        return sheet.note(stated(key, label, breaking, Kind.WIDTH_FORCE))
    high = max(breaking, 4 * joined.rated)
    reason = (
        "not stated: twice the rated tension, or the starting rating, whichever is larger; low is "
        "the side that opens the joint sooner"
    )
    return sheet.note(assumed(key, label, breaking, Kind.WIDTH_FORCE, reason, (breaking, high)))


def _pin(seen: Inspection, joined: JoinedBelt, sheet: Worksheet) -> Figure:
    """Bending stiffness of the pin as it is."""
    label, now = "diameter of the hinge pin", joined.pin_diameter(seen.pin_now)
    given: Given
    if seen.pin_now is not None:
        given = measured("assess.pin", f"{label} now", now, Kind.LENGTH, "at its thinnest place")
    elif joined.pin is not None:
        given = stated("assess.pin", label, now, Kind.LENGTH)
    else:
        given = assumed(
            "assess.pin",
            label,
            now,
            Kind.LENGTH,
            f"not known: {100 * PIN_OVER_PITCH:.0f} % of the pitch",
            (0.6 * now, 1.4 * now),
        )
    steel = assumed(
        "assess.pin_modulus",
        "elastic modulus of the pin",
        STEEL,
        Kind.PRESSURE,
        "steel, carbon and stainless alike; from memory. A pin of wires is worked as "
        "well, with a hundredth of the stiffness in bending",
        (PIN_OF_WIRES * STEEL, 2.1e11),
    )
    return sheet.work(
        "assess.pin_bending",
        "bending stiffness of the pin, N m²",
        pin_bending,
        diameter=given,
        modulus=steel,
    )


def _kept(seen: Inspection, joined: JoinedBelt, sheet: Worksheet) -> dict[End, list[Figure]]:
    """What each damaged plate keeps, by end; the pin's share counts on both."""
    kept: dict[End, list[Figure]] = {end: [] for end in End}
    new = seen.pin_new if seen.pin_new is not None else joined.pin
    if seen.pin_now is not None and new is not None and seen.pin_now < new:
        wear = measured(
            "assess.pin_wear",
            "wear of the pin",
            new - seen.pin_now,
            Kind.LENGTH,
            "new diameter less the thinnest measured",
        )
        first = stated("assess.pin_new", "diameter of the new pin", new, Kind.LENGTH)
        worn = sheet.work(
            "assess.pin_kept", "strength the worn pin keeps", kept_by_pin, wear=wear, diameter=first
        )
        for some in kept.values():
            some.append(worn)
    for plate in seen.plates:
        end = plate.end or End.LEADING
        key, name = _key(end, plate.number), _name(end, plate.number)
        if plate.bolts_missing:
            kept[end].append(
                sheet.work(
                    f"{key}.bolts_kept",
                    f"what is left with its bolts, {name}",
                    kept_by_bolts,
                    left=float(joined.bolts - plate.bolts_missing),
                    bolts=float(joined.bolts),
                )
            )
        if plate.state is not PlateState.OK:
            share = plate.share_kept or 0.0
            why = plate.state.value + (f": {plate.note}" if plate.note else "")
            judged = measured(
                f"{key}.judged",
                f"strength judged at the inspection, {name}",
                share,
                Kind.SHARE,
                why,
            )
            kept[end].append(sheet.note(judged))
    return kept


def _plates(
    assessment: JointAssessment, end: End, cases: int, rests: list[Figure], sheet: Worksheet
) -> None:
    for plate in assessment.of(end):
        key, name = _key(end, plate.number), _name(end, plate.number)
        sheet.found(
            f"{key}.kept",
            f"strength left, {name}",
            plate.kept,
            Kind.SHARE,
            "judged share times bolts, pin, and width on sound belt",
            rests,
            "assumption",
        )
        if plate.load is None or plate.high is None or plate.used is None:
            continue
        sheet.found(
            f"{key}.load",
            f"load, {name}",
            plate.load,
            Kind.FORCE,
            f"{_WORKED}; typical case, {assessment.place}",
            rests,
            "membrane",
        )
        sheet.found(
            f"{key}.high",
            f"largest load, {name}",
            plate.high,
            Kind.FORCE,
            f"{_WORKED}; largest of {cases} cases",
            rests,
            "membrane",
        )
        sheet.found(
            f"{key}.used",
            f"largest load over what it may carry, {name}",
            plate.used,
            Kind.SHARE,
            "largest load over strength left times a sound plate's pull",
            rests,
            "arithmetic",
        )


def _answers(
    assessment: JointAssessment,
    cases: int,
    rests: list[Figure],
    peak: Figure,
    fails: Figure,
    sheet: Worksheet,
) -> None:
    over = f"{_WORKED}; the plate worst off, over {cases} cases"
    for name, label, span in (
        ("margin", "strength over need of the plate worst off", assessment.margin),
        ("sound_margin", "the same without damage", assessment.sound_margin),
    ):
        for tail, value in zip(("lowest", "highest"), span, strict=True):
            sheet.found(
                f"assess.{name}.{tail}",
                f"{label}, {tail}",
                value,
                Kind.SHARE,
                over,
                rests,
                "membrane",
            )
    carries = sheet.found(
        "assess.carries",
        "largest tension it carries",
        assessment.largest,
        Kind.WIDTH_FORCE,
        "largest tension with every plate within its rating, lowest of all cases; searched "
        "upwards from nothing",
        rests,
        "membrane",
    )
    sheet.found(
        "assess.losses_to_open",
        "plates lost until it tears open",
        float(assessment.losses_to_open),
        Kind.COUNT,
        "the plate worst off is taken away, again and again, until those left fail one "
        "after another at the largest pull; fewest of all cases",
        [*rests, peak, fails],
        "membrane",
    )
    if assessment.tonnage is not None:
        known = [f for f in (sheet.get("demand.running"),) if f is not None]
        sheet.found(
            "assess.tonnage.share",
            "share of the full load it carries",
            assessment.tonnage.share,
            Kind.SHARE,
            "every load case of the conveyor again with less on the belt, until the "
            "tension at each place is what the joint bears there",
            [carries, *known],
        )
        sheet.found(
            "assess.tonnage.rate",
            "mass flow it carries",
            assessment.tonnage.rate,
            Kind.MASS_FLOW,
            "that share of the full load at the belt's speed",
            [carries, *known],
        )


def _key(end: End, number: int) -> str:
    return f"assess.{end.value.split()[0]}.plate_{number}"


def _name(end: End, number: int) -> str:
    return f"plate {number} of the {end.value}"


def _needed(record: Record) -> Record:
    """The lines of the assessment and what stands below them: not the whole plan's worksheet."""
    table = {key_of(entry): entry for entry in record.entries}
    queue = [key for key in table if key.startswith("assess.")]
    wanted = set[str]()
    while queue:
        key = queue.pop()
        if key in wanted or key not in table:
            continue
        wanted.add(key)
        entry = table[key]
        if not isinstance(entry, Given):
            queue += [name for _, name in entry.inputs]
    return Record(tuple(entry for key, entry in table.items() if key in wanted))
