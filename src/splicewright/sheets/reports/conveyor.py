"""The page of one conveyor: its loop, every load case, the second look, what is not known."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from splicewright.quantities import Figure, Kind, System, percent, show
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.pdf import render
from splicewright.sheets.drawings.loop import pulley_numbers, side_view
from splicewright.sheets.drawings.tension import tension_diagram
from splicewright.sheets.pages import worksheet
from splicewright.sheets.pages.drawings import MARGIN, Drawings
from splicewright.tension import LoadCase, Running, Study

TEMPLATES = Path(__file__).parents[1] / "canvas" / "templates"
_ORDER = ("style", "answer", "conveyor", "worksheet", "study")
DEFER = (
    "Law, site rules and the makers' instructions take precedence; a competent person must check "
    "these numbers."
)
_RANKED = 10
_LITTLE = 0.005
"""Behind less than this share of the spread an unknown is counted and not listed."""


def conveyor_sheet(study: Study, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the conveyor's sheet as PDF; the same study gives the same bytes.

    Raises
    ------
    OutputError
        The document cannot be made.
    """
    drawings = Drawings({}, {})
    wide = paper.width - 2 * MARGIN
    drawings.paste("loop", side_view(study, system), wide)
    drawings.paste("tension", tension_diagram(study, system, every=True), wide)
    reverse = bool(study.demand.reverse_cases)
    if reverse:
        drawings.paste("tension-back", tension_diagram(study, system, reverse=True), wide)
    data: dict[str, Any] = {
        "id": study.id,
        "mark": "Study",
        "file": "study.json",
        "title": f"Conveyor {study.conveyor.name}",
        "job": f"Conveyor {study.conveyor.name}",
        "invented": study.conveyor.invented,
        "paper": {"width": paper.width, "height": paper.height, "margin": MARGIN},
        "name": study.conveyor.name,
        "site": study.conveyor.site,
        "defer": DEFER,
        "reverse": reverse,
        "numbers": _numbers(study, system),
        "findings": [s.say(system) for s in study.demand.findings],
        "looked": [s.say(system) for s in (*study.second_look.findings, *study.standstill)],
        "cases": cases(study, system),
        "ways": _ways(study, system),
        "opinions": _opinions(study, system),
        "terms": _terms(study, system),
        "pulleys": _pulleys(study, system),
        "runs": _runs(study, system),
        "rest": [
            {
                "name": p.run,
                "acting": p.acting.show(system),
                "released": p.released.show(system),
            }
            for p in study.rest_points
        ],
        "stopped": _stopped(study, system),
        "crowns": _crowns(study, system),
        "transitions": _transitions(study, system),
        "curves": _curves(study, system),
        "unknowns": _unknowns(study, system),
        "worksheet": worksheet.worksheet(study, system),
        "drawings": drawings.captions,
    }
    return render(_template(), data, drawings.files, name="conveyor sheet")


def _numbers(study: Study, system: System) -> list[dict[str, str]]:
    """The key numbers, each with its name and a note."""
    asked, open_ = study.demand, study.unknowns
    full = asked.case(LoadCase.FULL)
    rated = [d.power for d in study.conveyor.drives if d.power is not None]
    rows = [
        ("running tension", asked.running.show(system), asked.running_governed_by),
        ("starting tension", asked.starting.show(system), asked.starting_governed_by),
        (
            "exceptional tension",
            _or_none(asked.exceptional, system),
            "largest of blocked chute and holdback"
            if asked.exceptional is not None
            else "motor and holdback not known",
        ),
        (
            "running, not knowing all",
            _per_width(open_.running.median, system),
            _range(study, system),
        ),
        (
            "chance of more",
            chance(study),
            "no rating asked about"
            if open_.rating is None
            else f"than a rating of {_per_width(open_.rating, system)}",
        ),
        ("belt strength over running", asked.belt_safety.show(system), study.conveyor.belt.marking),
        ("pull, full", full.pull.show(system), "effective, at all driven pulleys"),
        (
            "power, full",
            full.power.show(system),
            "rated " + " + ".join(p.show(system) for p in rated) if rated else "rating not given",
        ),
        ("at the take-up, full", full.take_up.show(system), study.conveyor.take_up.kind.value),
    ]
    return [{"name": n, "value": v, "note": t} for n, v, t in rows]


def _per_width(value: float, system: System) -> str:
    return show(value, Kind.WIDTH_FORCE, system)


def _range(study: Study, system: System) -> str:
    span = study.unknowns.running
    low = show(span.low, Kind.WIDTH_FORCE, system, unit=False)
    return f"median; 5 to 95 %: {low} to {_per_width(span.high, system)}"


def chance(study: Study) -> str:
    """The chance that the rating asked about is exceeded; "-" when none was."""
    open_ = study.unknowns
    if open_.exceeded is None:
        return "-"
    if open_.exceeded == 0:
        return f"under 1 in {open_.samples}"
    return show(open_.exceeded, Kind.SHARE)


def _or_none(figure: Figure | None, system: System) -> str:
    return "-" if figure is None else figure.show(system)


def cases(study: Study, system: System) -> list[dict[str, str]]:
    """Every load case worked, both ways where the belt has two, and the worst loading found."""
    asked = study.demand
    by_case = {c.case: c for c in (*asked.cases, *asked.other_cases)}
    rows = [_case(by_case[case], case.value, system) for case in LoadCase if case in by_case]
    by_case = {c.case: c for c in (*asked.reverse_cases, *asked.other_reverse_cases)}
    rows += [
        _case(by_case[case], f"back, {case.value}", system) for case in LoadCase if case in by_case
    ]
    for way, worst in (("", asked.worst), ("back, ", asked.reverse_worst)):
        if worst is None:
            continue
        loaded = ", ".join(worst.loaded) or "nothing"
        rows.append(
            {
                "name": f"{way}worst loading: {loaded} loaded",
                "pull": "-",
                "power": "-",
                "largest": worst.largest.show(system),
                "where": f"end of {worst.where}",
                "safety": "-",
                "sag": "-",
                "limits": "-",
            }
        )
    return rows


def _case(case: Running, name: str, system: System) -> dict[str, str]:
    sags = [(p.sag, p.name) for p in case.points if p.sag is not None]
    most = max(sags, key=lambda pair: pair[0].value) if case.case.steady and sags else None
    judged = case.case.steady or case.case.transient
    grip = "no slip" if case.grip_kept else "SLIPS"
    sag = "within limit" if case.sag_kept else "TOO LARGE"
    limits = grip if case.case.transient else f"{grip} / {sag}"
    return {
        "name": name,
        "pull": case.pull.show(system),
        "power": case.power.show(system),
        "largest": case.largest.show(system),
        "where": f"end of {case.where}",
        "safety": min(
            (p.safety for p in case.points if p.safety.value > 0), key=lambda f: f.value
        ).show(system),
        "sag": "-" if most is None else f"{most[0].show(system)} {most[1]}",
        "limits": limits if judged else "-",
    }


def _ways(study: Study, system: System) -> list[dict[str, str]]:
    """The two ways of the demand: motor plate and resistances, running and starting."""
    asked = study.demand
    full = asked.case(LoadCase.FULL)
    start = asked.case(LoadCase.STARTING)
    plate = asked.nameplate
    rows: list[tuple[str, Figure | None, Figure]] = [
        ("effective pull, full", plate.pull if plate else None, full.pull),
        ("behind the drive", plate.behind_drive if plate else None, full.behind_drive),
        ("largest per width", plate.largest if plate else None, full.largest),
        ("pull at the start", plate.starting_pull if plate else None, start.pull),
        ("largest at the start", plate.starting if plate else None, start.largest),
    ]
    return [
        {"name": name, "plate": _or_none(one, system), "resistance": other.show(system)}
        for name, one, other in rows
    ]


def _opinions(study: Study, system: System) -> list[dict[str, str]]:
    rows = []
    for one in study.second_look.opinions:
        apart = one.handbook.value - one.resistance.value
        rows.append(
            {
                "group": one.group,
                "handbook": one.handbook.show(system),
                "resistance": one.resistance.show(system),
                "apart": ("+" if apart > 0 else "") + show(apart, Kind.FORCE, system),
                "reason": one.reason,
            }
        )
    return rows


def _terms(study: Study, system: System) -> dict[str, Any]:
    terms = study.second_look.terms
    parts = (*terms.feeds, *terms.boards, *terms.wraps, *terms.bearings, *terms.tilts)
    return {
        "parts": [{"name": f.label, "value": f.show(system)} for f in parts],
        "total": terms.total.show(system),
        "at_once": terms.by_coefficient.show(system),
        "equal": _or_none(terms.equal_coefficient, system),
        "used": study.conveyor.method.length_coefficient.show(system),
        "why": study.conveyor.method.length_coefficient.reason,
    }


def _pulleys(study: Study, system: System) -> list[dict[str, Any]]:
    numbers = pulley_numbers(study.conveyor)
    looks = {look.pulley: look for look in study.second_look.pulleys}
    rows = []
    for p in study.demand.passings:
        look = looks[p.pulley]
        small = look.least is not None and look.fitted.value < look.least.value - 1e-9
        rows.append(
            {
                "number": str(numbers[p.pulley]),
                "name": p.pulley,
                "wrap": p.wrap.show(system),
                "running": p.running.show(system),
                "starting": p.starting.show(system),
                "fitted": p.diameter.show(system),
                "least": _or_none(look.least, system),
                "small": small,
                "group": look.group,
                "pressure": look.pressure.show(system),
                "remark": look.remark.say(system),
            }
        )
    return rows


def _runs(study: Study, system: System) -> list[dict[str, str]]:
    rows = []
    for run, sets in zip(study.conveyor.runs(), study.path.idlers, strict=True):
        station = study.path.at(run.name)
        rows.append(
            {
                "name": run.name,
                "from": show(station.start, Kind.DISTANCE, system),
                "to": show(station.end, Kind.DISTANCE, system),
                "length": run.length.show(system),
                "rise": run.rise.show(system),
                "sets": sets.show(system),
                "spacing": run.idlers.spacing.show(system),
            }
        )
    return rows


def _stopped(study: Study, system: System) -> dict[str, Any] | None:
    """The belt stopped with load on it; None where no load pulls either way."""
    back = study.run_back
    if back.most.value <= 0 and not study.load_rests:
        return None
    ways = [
        {
            "name": way.name,
            "pull": way.pull.show(system),
            "may": way.may_move.show(system),
            "sure": way.sure_to_move.show(system),
            "loaded": way.loaded,
        }
        for way in (back.back, back.forward)
    ]
    even = abs(back.even.value)
    runs = [
        {
            "name": one.run,
            "slope": one.slope.show(system),
            "surcharge": one.surcharge.show(system),
            "bears": one.bears.show(system) if one.bears.value > 0 else "nothing",
            "rest": one.rest.value,
        }
        for one in study.load_rests
    ]
    return {
        "ways": ways,
        "even": f"{show(even, Kind.FORCE, system)} "
        + ("backwards" if back.even.value >= 0 else "forwards"),
        "runs": runs,
    }


def _crowns(study: Study, system: System) -> list[dict[str, str]]:
    return [
        {
            "name": c.pulley,
            "crown": c.crown.show(system),
            "mean": c.mean.show(system),
            "middle": c.middle.show(system),
            "edge": c.edge.show(system),
            "permitted": c.permitted.show(system),
        }
        for c in study.second_look.crowns
    ]


def _transitions(study: Study, system: System) -> list[dict[str, str]]:
    return [
        {
            "name": t.pulley,
            "edge": _or_none(t.by_edge, system),
            "middle": _or_none(t.by_middle, system),
            "rule": t.by_rule.show(system),
            "needed": "none is enough" if t.needed is None else t.needed.show(system),
            "stated": "not stated" if t.stated is None else t.stated.show(system),
            "edges": _or_none(t.edges, system),
            "slackest": _or_none(t.slackest, system),
        }
        for t in study.second_look.transitions
    ]


def _curves(study: Study, system: System) -> list[dict[str, str]]:
    return [
        {
            "name": c.between,
            "kind": "concave" if c.concave else "convex",
            "lift_off": _or_none(c.lift_off, system),
            "needed": "none is enough" if c.needed is None else c.needed.show(system),
            "stated": "not stated" if c.stated is None else c.stated.show(system),
            "tightest": _or_none(c.tightest, system),
            "slackest": _or_none(c.slackest, system),
        }
        for c in study.second_look.curves
    ]


def _unknowns(study: Study, system: System) -> dict[str, Any]:
    open_ = study.unknowns
    swings = {s.given.key: s for s in study.swings}
    ranked = []
    listed = [i for i in open_.influences if i.total >= _LITTLE][:_RANKED]
    for one in listed:
        given, swing = one.given, swings.get(one.given.key)
        low, high = (show(v, given.kind, system) for v in (given.low, given.high))
        ranked.append(
            {
                "label": given.label,
                "taken": given.show(system),
                "span": f"{low} to {high}",
                "origin": given.origin.value,
                "total": percent(min(one.total, 1.0)),
                "bar": min(one.total, 1.0),
                "alone": percent(min(one.alone, 1.0)),
                "moves": "-"
                if swing is None
                else f"{_per_width(swing.at_low, system)} to {_per_width(swing.at_high, system)}",
            }
        )
    return {
        "spans": [
            {
                "name": name,
                "taken": figure.show(system),
                **{k: _per_width(getattr(span, k), system) for k in ("low", "median", "high")},
            }
            for name, figure, span in (
                ("running", study.demand.running, open_.running),
                ("starting", study.demand.starting, open_.starting),
            )
        ],
        "rating": None if open_.rating is None else _per_width(open_.rating, system),
        "exceeded": chance(study),
        "ranked": ranked,
        "more": len(open_.influences) - len(listed),
        "samples": str(open_.samples),
        "seed": str(open_.seed),
    }


@cache
def _template() -> str:
    return "\n".join((TEMPLATES / f"{name}.typ").read_text("utf-8") for name in _ORDER)
