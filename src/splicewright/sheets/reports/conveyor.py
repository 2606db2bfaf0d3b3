"""A studied conveyor: demand, every load case, the second look, what is not known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from splicewright.quantities import Figure, Kind, System, percent, show
from splicewright.sheets.drawings.loop import pulley_numbers, side_view
from splicewright.sheets.drawings.tension import tension_diagram
from splicewright.sheets.pages.document import (
    Diagram,
    Document,
    KeyNumber,
    Point,
    Section,
    sentences,
)
from splicewright.sheets.pages.worksheet import worksheet
from splicewright.tension import LoadCase, Running, Study
from splicewright.tension.unknowns import Influence

_CAUTIONS = (
    "Tensions are worked from what the file says and what is assumed for the rest. Measure what "
    "stands first under what to measure next before anything is rated by them.",
)
_FIRST, _RANKED = 4, 10
"""Unknowns that are named with the answer, and that are listed."""
_LITTLE = 0.005
"""Behind less than this share of the spread an unknown is counted and not listed."""


def conveyor_report(study: Study, system: System = "metric") -> Document:
    """Demand, the loop, every case, the belt stopped, second looks, what is not known."""
    asked = study.demand
    answer = [f"Running {asked.running.show(system)}, starting {asked.starting.show(system)}."]
    for way, worst in (("", asked.worst), (", running back", asked.reverse_worst)):
        if worst is not None:
            answer.append(
                f"Worst loading{way}: {', '.join(worst.loaded) or 'nothing'} loaded: "
                f"{worst.largest.show(system)} at the end of {worst.where}."
            )
    found = (*asked.findings, *study.second_look.findings, *study.standstill)
    loop = Diagram("loop", partial(side_view, study, system))
    sections = (
        Section("Check", tuple(s.say(system) for s in found), warns=True),
        Section("", diagrams=(loop,)),
        _measure_next(study, system),
        *_round_the_loop(study, system),
        *_stopped(study, system),
        _runs(study, system),
        *_second_look(study, system),
        *_not_known(study, system),
    )
    site = f", {study.conveyor.site}" if study.conveyor.site else ""
    return Document(
        "Conveyor study",
        study.conveyor.name,
        f"{study.mark}{site}",
        tuple(answer),
        _numbers(study, system),
        tuple(s for s in sections if s.table or s.points or s.listed or s.diagrams),
        cautions=_CAUTIONS,
        invented=study.conveyor.invented,
        id=study.id,
        worksheet=lambda: worksheet(study, system, "study.json"),
    )


def _numbers(study: Study, system: System) -> tuple[KeyNumber, ...]:
    """The key numbers, each with its name and a note."""
    asked, open_ = study.demand, study.unknowns
    full = asked.case(LoadCase.FULL)
    rated = [d.power for d in study.conveyor.drives if d.power is not None]
    low = show(open_.running.low, Kind.WIDTH_FORCE, system, unit=False)
    rows = [
        ("Running tension", asked.running.show(system), asked.running_governed_by),
        ("Starting tension", asked.starting.show(system), asked.starting_governed_by),
        (
            "Exceptional tension",
            _or_none(asked.exceptional, system),
            "largest of blocked chute and holdback"
            if asked.exceptional is not None
            else "motor and holdback not known",
        ),
        (
            "Not knowing all",
            _per_width(open_.running.median, system),
            f"running, median; 5 to 95 %: {low} to {_per_width(open_.running.high, system)}",
        ),
        ("Belt strength over running", asked.belt_safety.show(system), study.conveyor.belt.marking),
        ("Pull, full", full.pull.show(system), "effective, at all driven pulleys"),
        (
            "Power, full",
            full.power.show(system),
            "rated " + " + ".join(p.show(system) for p in rated) if rated else "rating not given",
        ),
        ("At the take-up, full", full.take_up.show(system), study.conveyor.take_up.kind.value),
    ]
    if open_.rating is not None:
        more = f"Chance of more than {_per_width(open_.rating, system)}"
        rows.insert(4, (more, chance(study), "running, than the rating asked about"))
    return tuple(KeyNumber(*row) for row in rows)


def _per_width(value: float, system: System) -> str:
    return show(value, Kind.WIDTH_FORCE, system)


def chance(study: Study) -> str:
    """The chance that the rating asked about is exceeded; "-" when none was."""
    open_ = study.unknowns
    if open_.exceeded is None:
        return "-"
    if open_.exceeded == 0:
        return f"under 1 in {open_.samples}"
    if open_.exceeded < 0.01:  # two decimals would make a small chance none
        return show(open_.exceeded, Kind.SHARE)
    return percent(open_.exceeded, 2)


def _or_none(figure: Figure | None, system: System) -> str:
    return "-" if figure is None else figure.show(system)


def _stated(figure: Figure | None, system: System, without: str = "not stated") -> str:
    return without if figure is None else figure.show(system)


def _measure_next(study: Study, system: System) -> Section:
    return Section(
        "Measure next",
        ("Share of the running tension's spread that each is behind, alone and with others.",),
        listed=tuple(
            Point(
                one.given.label,
                f"{one.given.show(system)} taken, {_span(one, system)} possible",
                state=f"{percent(min(one.total, 1.0))} of the spread",
            )
            for one in _listed(study)[:_FIRST]
        ),
    )


def _listed(study: Study) -> Sequence[Influence]:
    return [one for one in study.unknowns.influences if one.total >= _LITTLE][:_RANKED]


def _span(one: Influence, system: System) -> str:
    low, high = (show(v, one.given.kind, system) for v in (one.given.low, one.given.high))
    return f"{low} to {high}"


def _round_the_loop(study: Study, system: System) -> tuple[Section, ...]:
    """Every load case worked, both ways where the belt has two: drawn, and in numbers."""
    asked = study.demand
    diagrams = [Diagram("tension", partial(tension_diagram, study, system, every=True))]
    if asked.reverse_cases:
        back = partial(tension_diagram, study, system, reverse=True)
        diagrams.append(Diagram("tension-reverse", back))
    cases: list[tuple[str, Running]] = []
    for lead, worked in (
        ("", (*asked.cases, *asked.other_cases)),
        ("back, ", (*asked.reverse_cases, *asked.other_reverse_cases)),
    ):
        by_case = {c.case: c for c in worked}
        cases += [(lead + c.value, by_case[c]) for c in LoadCase if c in by_case]
    notes = [
        "A blocked chute and an engaged holdback are exceptional: they do not set running or "
        "starting tension.",
    ]
    if asked.worst is not None or asked.reverse_worst is not None:
        notes.append(
            "What is loaded in the worst loading: the carry runs, empty or full, that make the "
            "tension largest."
        )
    return (
        Section("Tension round the loop, every load case", diagrams=tuple(diagrams), opens=True),
        Section(
            "Every load case",
            tuple(notes),
            head=("case", "pull", "power", "largest tension", "at the end of"),
            table=tuple(
                (name, c.pull.show(system), c.power.show(system), c.largest.show(system), c.where)
                for name, c in cases
            ),
            words=(4,),
            strong=(3,),
        ),
        Section(
            "Strength, sag and grip in every load case",
            ("Sag is held against its limit in steady running.",),
            head=("case", "strength over it", "most sag", "grip", "sag"),
            table=tuple((name, *_limits(case, system)) for name, case in cases),
            words=(2, 3, 4),
        ),
    )


def _limits(case: Running, system: System) -> tuple[str, str, str, str]:
    """Strength over tension, sag, and whether grip and sag are kept."""
    least = min((p.safety for p in case.points if p.safety.value > 0), key=lambda f: f.value)
    sags = [(p.sag, p.name) for p in case.points if p.sag is not None]
    most = max(sags, key=lambda pair: pair[0].value) if case.case.steady and sags else None
    steady, judged = case.case.steady, case.case.steady or case.case.transient
    return (
        least.show(system),
        "-" if most is None else f"{most[0].show(system)} {most[1]}",
        "-" if not judged else "no slip" if case.grip_kept else "SLIPS",
        "-" if not steady else "within limit" if case.sag_kept else "TOO LARGE",
    )


def _stopped(study: Study, system: System) -> tuple[Section, ...]:
    """The belt stopped with load on it, where load pulls either way; tensions at rest."""
    back = study.run_back
    even = show(abs(back.even.value), Kind.FORCE, system)
    pulls = Section(
        "Stopped with load on the belt",
        (
            "The whole uncut loop, the load lying where it pulls most that way; spread evenly it "
            f"pulls {even} {'backwards' if back.even.value >= 0 else 'forwards'}.",
            "With the least friction: whether the belt may run away; with the most: whether it "
            "surely does. Trust neither holdback nor brake.",
        ),
        head=(
            "the load pulls", "nothing credited", "least friction", "most friction", "lying on",
        ),
        table=tuple(
            (
                way.name, way.pull.show(system), way.may_move.show(system),
                way.sure_to_move.show(system), way.loaded,
            )
            for way in (back.back, back.forward)
        ),
        at_hand=False,
        words=(4,),
        strong=(1,),
    )  # fmt: skip
    lying = Section(
        "Load lying on the stopped belt",
        head=("load on", "slope", "surcharge angle", "jerk it bears", "it"),
        table=tuple(
            (
                one.run, one.slope.show(system), one.surcharge.show(system),
                one.bears.show(system) if one.bears.value > 0 else "nothing", one.rest.value,
            )
            for one in study.load_rests
        ),
        at_hand=False,
        strong=(4,),
    )  # fmt: skip
    rest = Section(
        "At rest, at the end of every run",
        (
            "Every input not measured at its bad end, the full load lying where it pulls most, "
            "friction whichever way is worse, drives holding or not. Released: what friction may "
            "keep. A belt with a screw take-up or a locked winch may have kept what its drives "
            "pulled while it ran.",
        ),
        head=("belt tension, not more than", "take-up acting", "take-up released"),
        table=tuple(
            (p.run, p.acting.show(system), p.released.show(system)) for p in study.rest_points
        ),
        at_hand=False,
        strong=(1,),
    )
    return (pulls, lying, rest) if back.most.value > 0 or study.load_rests else (rest,)


def _runs(study: Study, system: System) -> Section:
    rows = []
    for run, sets in zip(study.conveyor.runs(), study.path.idlers, strict=True):
        station = study.path.at(run.name)
        ends = (show(at, Kind.DISTANCE, system) for at in (station.start, station.end))
        figures = (run.length, run.rise, sets, run.idlers.spacing)
        rows.append((run.name, *ends, *(f.show(system) for f in figures)))
    return Section(
        "Runs",
        ("From, to: along the loop from the entry of the first pulley, with the travel.",),
        head=("run", "from", "to", "length", "rise", "idler sets", "spacing"),
        table=tuple(rows),
        at_hand=False,
    )


def _second_look(study: Study, system: System) -> tuple[Section, ...]:
    """Other published ways beside the one taken; none of them sets the demand."""
    look, terms = study.second_look, study.second_look.terms
    method = study.conveyor.method.length_coefficient
    parts = (*terms.feeds, *terms.boards, *terms.wraps, *terms.bearings, *terms.tilts)
    sections = (
        Section(
            "Second look",
            (
                "None of this sets the demand. It shows how far other published ways lie from "
                "it, and why.",
            ),
            opens=True,
        ),
        Section(
            "Two ways to the demand",
            head=("figure", "by the motor plate", "by resistances"),
            table=_ways(study, system),
        ),
        Section(
            "Effective pull by the handbook, full",
            (
                "The handbook's factor tables are not open: its factors here are from memory, "
                "each in the worksheet with its span.",
            ),
            head=("part", "handbook", "resistances", "apart", "why they differ"),
            table=tuple(
                (
                    one.group, one.handbook.show(system), one.resistance.show(system),
                    _apart(one.handbook.value - one.resistance.value, system), one.reason,
                )
                for one in look.opinions
            ),
            words=(4,),
        ),
        Section(
            "Secondary resistances, one by one",
            (
                ", ".join(f"{f.label} {f.show(system)}" for f in parts) + ".",
                f"Together {terms.total.show(system)}; all at once by C = {method.show(system)}: "
                f"{terms.by_coefficient.show(system)}. The terms equal "
                f"C = {_or_none(terms.equal_coefficient, system)}.",
                *((f"C: {method.reason}.",) if method.reason else ()),
            ),
        ),
        _pulleys(study, system),
        Section(
            "Crowned pulleys, tension across the belt",
            (
                "Crown: radius in the middle less radius at the edges. The belt is taken as stuck "
                "to the pulley, the largest spread a crown can give; edges at the slackest "
                "ordinary case.",
            ),
            head=("pulley", "crown", "belt", "middle up to", "edges down to", "permitted"),
            table=tuple(
                (c.pulley, *(f.show(system)
                             for f in (c.crown, c.mean, c.middle, c.edge, c.permitted)))
                for c in look.crowns
            ),
            strong=(3,),
        ),
        Section(
            "Transitions, shortest",
            (
                "Edges carry, slackest: largest tension of the edges and least of any fibre over "
                "the ordinary cases, in the stated transition, or else the needed one.",
            ),
            head=(
                "at", "for edges", "for middle", "by rule", "needed", "stated", "edges carry",
                "slackest",
            ),
            table=tuple(
                (
                    t.pulley, _or_none(t.by_edge, system), _or_none(t.by_middle, system),
                    t.by_rule.show(system), _stated(t.needed, system, "none is enough"),
                    _stated(t.stated, system), _or_none(t.edges, system),
                    _or_none(t.slackest, system),
                )
                for t in look.transitions
            ),
            strong=(4,),
        ),
        Section(
            "Vertical curves, least radius",
            (
                "Outside, inside: largest tension at the outside of the curve and least at its "
                "inside (convex: edges and middle; concave: the other way round), at the stated "
                "radius, or else the needed one.",
            ),
            head=("between", "kind", "lift-off", "needed", "stated", "outside", "inside"),
            table=tuple(
                (
                    c.between, "concave" if c.concave else "convex", _or_none(c.lift_off, system),
                    _stated(c.needed, system, "none is enough"), _stated(c.stated, system),
                    _or_none(c.tightest, system), _or_none(c.slackest, system),
                )
                for c in look.curves
            ),
            words=(1,),
            strong=(3,),
        ),
    )  # fmt: skip
    there = (s for s in sections if s.table or not s.head)
    return tuple(replace(section, at_hand=False) for section in there)


def _apart(force: float, system: System) -> str:
    return ("+" if force > 0 else "") + show(force, Kind.FORCE, system)


def _ways(study: Study, system: System) -> tuple[tuple[str, str, str], ...]:
    """The two ways of the demand: motor plate and resistances, running and starting."""
    full, start = (study.demand.case(c) for c in (LoadCase.FULL, LoadCase.STARTING))
    plate = study.demand.nameplate
    rows: list[tuple[str, Figure | None, Figure]] = [
        ("effective pull, full", plate.pull if plate else None, full.pull),
        ("behind the drive", plate.behind_drive if plate else None, full.behind_drive),
        ("largest per width", plate.largest if plate else None, full.largest),
        ("pull at the start", plate.starting_pull if plate else None, start.pull),
        ("largest at the start", plate.starting if plate else None, start.largest),
    ]
    return tuple((name, _or_none(one, system), other.show(system)) for name, one, other in rows)


def _pulleys(study: Study, system: System) -> Section:
    numbers = pulley_numbers(study.conveyor)
    looks = {look.pulley: look for look in study.second_look.pulleys}
    rows, remarks = [], []
    for p in study.demand.passings:
        look = looks[p.pulley]
        small = look.least is not None and look.fitted.value < look.least.value - 1e-9
        if remark := look.remark.say(system):
            remarks.append(f"{p.pulley}: {remark}.")
        rows.append(
            (
                f"{numbers[p.pulley]} {p.pulley}",
                *(f.show(system) for f in (p.wrap, p.running, p.starting, p.diameter)),
                _or_none(look.least, system) + (": smaller" if small else ""),
                look.pressure.show(system),
                look.group,
            )
        )
    return Section(
        "Pulleys",
        (
            "Least: what the belt itself wants by the table of DIN 22101, whatever the joint; "
            "smaller: the fitted one is. Pressure between belt and pulley, full.",
            *sentences(remarks),
        ),
        head=(
            "pulley", "wrap", "running", "starting", "fitted", "least", "pressure", "group",
        ),
        table=tuple(rows),
        words=(7,),
    )  # fmt: skip


def _not_known(study: Study, system: System) -> tuple[Section, ...]:
    """All that is open varied at once, and what of it is worth measuring."""
    open_, swings = study.unknowns, {s.given.key: s for s in study.swings}
    spans = tuple(
        (name, figure.show(system), *(_per_width(v, system) for v in (s.low, s.median, s.high)))
        for name, figure, s in (
            ("running", study.demand.running, open_.running),
            ("starting", study.demand.starting, open_.starting),
        )
    )
    listed = _listed(study)
    ranked = []
    for one in listed:
        swing = swings.get(one.given.key)
        moves = "-" if swing is None else f"{_per_width(swing.at_low, system)} to "
        moves += "" if swing is None else _per_width(swing.at_high, system)
        total, alone = (percent(min(share, 1.0)) for share in (one.total, one.alone))
        taken = one.given.show(system)
        ranked.append((one.given.label, taken, _span(one, system), total, alone, moves))
    more = len(open_.influences) - len(listed)
    rating = "" if open_.rating is None else _per_width(open_.rating, system)
    return (
        Section(
            "What is not known",
            (
                "Every number that was not stated, and every stated range, is varied at once: "
                "assumptions triangular between their plausible ends, ranges even, values with a "
                f"standard deviation normal. {open_.samples} samples, seed {open_.seed}: the same "
                "file gives the same answer.",
            ),
            head=("tension per width", "as taken", "5 %", "median", "95 %"),
            table=spans,
            says=f"Chance that the running tension is more than the rating of {rating}: "
            f"{chance(study)}."
            if rating
            else "",
            at_hand=False,
            opens=True,
            strong=(3,),
        ),
        Section(
            "What to measure next",
            (
                "Behind the spread: share of the running tension's variance that would go if this "
                "alone were known (total Sobol index); alone: without what it acts together with."
                + (f" {more} more move it less." if more else ""),
            )
            if ranked
            else ("No open number changes the running tension.",),
            head=("", "taken", "possible", "behind the spread", "alone", "moved alone, running"),
            table=tuple(ranked),
            at_hand=False,
            words=(2, 3, 5),
            bars=3,
        ),
    )
