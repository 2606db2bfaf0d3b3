"""The words of a comparison of measured with predicted."""

from __future__ import annotations

from collections.abc import Sequence

from splicewright.history.measurement import Agreement, Compared
from splicewright.quantities import System, show

_SAID = {
    Agreement.EXPLAINED: "the uncertainties explain the difference",
    Agreement.MORE: "more than predicted, beyond the uncertainties: treat the prediction as unsafe "
    "until the cause is known",
    Agreement.LESS: "less than predicted, beyond the uncertainties",
    Agreement.WITHIN: "the bound was kept, measurement uncertainty counted",
    Agreement.BEYOND: "the bound was not surely kept: treat it as unsafe until the cause is known",
    Agreement.OPEN: "no uncertainty stated: only the difference can be told",
}
_WEAR = {
    Agreement.MORE: "more left than predicted, beyond the uncertainties",
    Agreement.LESS: "less left than predicted, beyond the uncertainties: it wears faster than "
    "forecast, inspect sooner",
}


def comparison_lines(rows: Sequence[Compared], system: System, *, wear: bool) -> list[str]:
    """One row each, then what they say together.

    Parameters
    ----------
    wear : they are readings of wear, where less than predicted is the unsafe side
    """
    lines = []
    for row in rows:
        values = [show(v, row.kind, system) for v in (row.measured, row.predicted)]
        apart, half_width = row.difference, row.half_width
        if wear:  # to what a gauge reads, so that it is the difference of what is printed
            apart = round(apart, 4)
            half_width = None if half_width is None else round(half_width, 4)
        values.append(show(apart, row.kind, system))
        share = f" ({100 * apart / row.predicted:+.1f} %)" if row.predicted and not wear else ""
        doubt = [
            f"{name} ± {show(half, row.kind, system)}"
            for name, half in (("measured", row.uncertainty), ("predicted", half_width))
            if half is not None
        ]
        verdict = (_WEAR if wear else {}).get(row.verdict, _SAID[row.verdict])
        lines.append(row.label if wear else f"{row.what}: {row.label}")
        lines.append(
            f"   measured {values[0]}, predicted {values[1]}, difference {values[2]}{share}"
            + (f"; {', '.join(doubt)}" if doubt else "")
        )
        lines.append(f"   {verdict}" + (f"; {row.note}" if row.note else ""))
    bare = [row.what for row in rows if row.half_width is None and not row.bound]
    if bare and not wear:
        lines.append(
            f"The range of a prediction is not counted for {', '.join(bare)}: inputs that were "
            "assumed can explain a difference too (splicewright explain names them)."
        )
    lines.append("One comparison proves no method. How to contribute it: docs/measurement.md")
    return lines
