"""Square a belt end from what was measured on it, and judge the cut.

Distances run from the rough end into the belt; offsets across are positive to the left, facing
in the direction of travel.
"""

from __future__ import annotations

from dataclasses import replace

from splicewright.errors import Fault, InputError
from splicewright.joint.belt_end.centreline import (
    Centreline,
    Correction,
    SquareLine,
    correct,
    fit_centreline,
    out_of_square,
    square_line,
)
from splicewright.joint.belt_end.cut_checks import (
    CutVerdict,
    check_diagonals,
    check_edge_lengths,
    check_equal_arcs,
    judge_cut,
)
from splicewright.joint.belt_end.squared_end import (
    CheckDone,
    CheckKind,
    CheckMeasured,
    Limit,
    SquaredEnd,
    SquaringMeasured,
)
from splicewright.quantities import Figure, Kind, Line, Sentence, sentence

_NOTHING = 1e-6
"""An error below this is none: a thousandth of what a tape reads [m]."""


def square_end(measured: SquaringMeasured, limit: Limit | None = None) -> SquaredEnd:
    """Fit the centreline, draw the square line, and judge the checks.

    Parameters
    ----------
    measured : from `load_squaring`
    limit : used when the file states none

    Raises
    ------
    InputError
        Fewer than three stations, one off the belt, lengths that cannot be. All faults of
        one kind at once.
    """
    if measured.limit is not None:
        limit = Limit(measured.limit, sentence("limit as stated"))
    centre = line = correction = None
    sentences: list[Sentence] = []
    remarks: list[Sentence] = []
    if measured.stations:
        centre = fit_centreline(
            measured.stations,
            measured.midpoints,
            belt_length=measured.belt_length,
            reading=measured.reading,
        )
        at = measured.at if measured.at is not None else min(measured.stations)
        line = square_line(centre, measured.width, at)
        remarks += _remarks(centre, measured.width)
        if measured.drawn is not None:
            correction = correct(line, *measured.drawn)
            sentences += _correction_said(correction, measured.reading)
        sentences += _line_said(centre, line, measured.reading)
    checks = tuple(
        _done(f"checks.{number}", check, measured, limit)
        for number, check in enumerate(measured.checks, 1)
    )
    for check in checks:
        sentences += _check_said(check, measured.reading)
    if limit is not None and checks:
        remarks.append(sentence("Limit {limit} over the belt width: ", limit=_length(limit.amount)))
        remarks[-1] = Sentence(
            remarks[-1].template + limit.reason.template + ".",
            (*remarks[-1].numbers, *limit.reason.numbers),
        )
    elif checks:
        remarks.append(
            sentence(
                "No limit given and no plan named: the error is shown, not judged. The "
                "maker's limit takes precedence."
            )
        )
    from splicewright.joint.belt_end.worksheet import explained

    end = SquaredEnd(
        measured.name,
        measured.invented,
        measured.width,
        measured,
        centre,
        line,
        correction,
        checks,
        limit,
        tuple(sentences),
        tuple(remarks),
        _assumptions(measured),
    )
    return replace(end, worksheet=explained(end))


def _length(value: float) -> tuple[float, Kind]:
    return value, Kind.LENGTH


def _doubt(value: float, reading: float) -> tuple[float, Kind]:
    """A doubt as it is said: no mark is set finer than half of what can be read."""
    return max(value, reading / 2), Kind.LENGTH


def _line_said(centre: Centreline, line: SquareLine, reading: float) -> list[Sentence]:
    return [
        sentence(
            "Square line: from the left edge at {left} to the right edge at {right}, each "
            "give or take {doubt} (95 %).",
            left=_length(line.left),
            right=_length(line.right),
            doubt=_doubt(line.uncertainty, reading),
        ),
        sentence(
            f"Centreline through {centre.stations} stations over {{span}}; at {{at}} the "
            "belt's middle lies {off} " + _side(line.centre) + " of the stretched line, "
            "give or take {doubt}.",
            span=(centre.span, Kind.DISTANCE),
            at=(line.at, Kind.DISTANCE),
            off=_length(abs(line.centre)),
            doubt=_doubt(centre.uncertainty_at(line.at), reading),
        ),
    ]


def _side(offset: float) -> str:
    return "to the left" if offset >= 0 else "to the right"


def _correction_said(correction: Correction, reading: float) -> list[Sentence]:
    moves = []
    numbers = {}
    for side, value in (("left", correction.left), ("right", correction.right)):
        way = "into the belt" if value >= 0 else "towards the end"
        moves.append(f"at the {side} edge {{{side}}} {way}")
        numbers[side] = _length(abs(value))
    deeper = "left" if correction.out_of_square >= 0 else "right"
    return [
        sentence("Move the drawn line " + " and ".join(moves) + ".", **numbers),
        sentence(
            f"As drawn its {deeper} end lies {{error}} too far into the belt, over the "
            "width, give or take {doubt}.",
            error=_length(abs(correction.out_of_square)),
            doubt=_doubt(correction.uncertainty, reading),
        ),
    ]


def _remarks(centre: Centreline, width: float) -> list[Sentence]:
    remarks = []
    if centre.short:
        remarks.append(
            sentence(
                "The stations span {span}; common practice is 5 to 7 m: measure further back.",
                span=(centre.span, Kind.DISTANCE),
            )
        )
    if centre.bow_uncertainty is None:
        remarks.append(
            sentence("Three stations cannot tell a bowed belt from misread ones: measure five.")
        )
    elif centre.bowed:
        remarks.append(
            sentence(
                "The belt is bowed by {bow} " + _side(centre.bow) + " over the span (give or "
                "take {doubt}): square to its line the end is out of square to the belt "
                "right there by {lean} over the width.",
                bow=_length(abs(centre.bow)),
                doubt=_length(centre.bow_uncertainty),
                lean=_length(abs(out_of_square(width, centre.end_lean))),
            )
        )
    return remarks


def _done(
    key: str, check: CheckMeasured, measured: SquaringMeasured, limit: Limit | None
) -> CheckDone:
    left, right, back, reading = check.left, check.right, check.back, measured.reading
    try:
        if check.kind is CheckKind.ARCS:
            hand_check = check_equal_arcs(left, right, back, measured.width, reading)
        elif check.kind is CheckKind.DIAGONALS:
            hand_check = check_diagonals(left, right, back, measured.width, reading)
        else:
            hand_check = check_edge_lengths(left, right, reading)
    except InputError as error:
        raise InputError(
            *(
                Fault(key, f"{check.kind.value} of {f.sentence}", measured.file)
                for f in error.faults
            )
        ) from None
    return CheckDone(
        check, hand_check, None if limit is None else judge_cut(hand_check, limit.amount)
    )


def _check_said(check: CheckDone, reading: float) -> list[Sentence]:
    line = "cut" if check.measured.after_cut else "marked line"
    error = check.found.out_of_square
    deeper = "left" if error >= 0 else "right"
    text = f"By {check.measured.kind.value} the {line} is "
    if abs(error) < _NOTHING:
        text += "square as read, give or take {doubt} over the width"
    else:
        text += (
            f"out of square by {{error}} over the width, {deeper} end further into the belt, "
            "give or take {doubt}"
        )
    if check.judgement is not None:
        verdict = check.judgement.verdict
        again = verdict is CutVerdict.RECUT and not check.measured.after_cut
        text += ": out of the limit: mark again" if again else f": {verdict.value}"
    return [
        sentence(
            text + ".", error=_length(abs(error)), doubt=_doubt(check.found.uncertainty, reading)
        )
    ]


def _assumptions(measured: SquaringMeasured) -> tuple[Sentence, ...]:
    assumptions = [
        sentence(
            "Lengths read to {step}; belt laid flat, without pull and without folds.",
            step=_length(measured.reading),
        )
    ]
    if measured.stations:
        assumptions.append(
            sentence("Uncertainties are 95 % intervals of a straight line through the midpoints.")
        )
    return tuple(assumptions)


def figures(end: SquaredEnd) -> tuple[Figure, ...]:
    """The numbers of a squared end under their keys, for machines [SI]."""
    return tuple(e.figure for e in end.worksheet.entries if isinstance(e, Line))
