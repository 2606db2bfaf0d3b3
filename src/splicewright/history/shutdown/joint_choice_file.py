"""Joints that could be renewed, from a table (CSV): chances, costs and crew hours."""

from __future__ import annotations

from splicewright.files.table import read_table
from splicewright.files.typed_file import Readable
from splicewright.history.shutdown.joint_choice import Candidate
from splicewright.quantities import Kind

MUST = ("joint", "conveyor", "chance left", "failure cost", "renewal cost", "hours")
MAY = ("chance renewed", "opening", "worth later", "note")
_DEAREST = 1e12
_LONGEST = 5000 * 3600.0


def load_candidates(path: Readable) -> tuple[tuple[Candidate, ...], dict[str, float], bool]:
    """Read the joints that could be renewed in a shutdown.

    path : CSV with the columns of docs/history-files.md
    Returns the joints; conveyor -> crew hours to open it up [s]; whether they are invented. Raises
    InputError: anything wrong in the file; each fault with line and column.
    """
    table = read_table(path, MUST, MAY)
    joints: dict[str, Candidate] = {}
    opening: dict[str, float] = {}
    for row in table.rows:
        name, conveyor = row.text("joint"), row.text("conveyor")
        for column in MUST:
            if not row.text(column):
                table.fault(row.line, column, "is empty; it must be given")
        if name in joints:
            table.fault(row.line, "joint", f'"{name}" stands twice')
        chances = [row.number(c, Kind.SHARE, most=1.0) for c in ("chance left", "chance renewed")]
        costs = [row.number(c, Kind.RATIO, most=_DEAREST) for c in ("failure cost", "renewal cost")]
        hours = row.number("hours", Kind.TIME, least=60.0, most=_LONGEST)
        later = row.number("worth later", Kind.RATIO, most=_DEAREST)
        opens = row.number("opening", Kind.TIME, most=_LONGEST)
        if opens is not None and opening.setdefault(conveyor, opens) != opens:
            table.fault(row.line, "opening", f"differs from that given before for {conveyor}")
        joints[name] = Candidate(
            name, conveyor, chances[0] or 0.0, chances[1] or 0.0, costs[0] or 0.0, costs[1] or 0.0,
            hours or 3600.0, later or 0.0,
        )  # fmt: skip
    table.settle()
    return tuple(joints.values()), opening, table.invented
