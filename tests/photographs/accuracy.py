"""How accurate, over many scenes: in tests/, `python -m photographs.accuracy out.jsonl 5000 5500`.

Two more numbers are seeds of the bad scenes, two more of lines, notches, holes, gaps, plates and
pins. Each line of the file is one scene: what was measured, stated and true, or why it was refused.
Run again it goes on where it stopped. The tables of docs/photographs.md are printed from it.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from photographs.rendering import Scene, draw, photograph
from photographs.scenes import (
    BAD,
    COUNT,
    HIGH,
    HOLE,
    LONG,
    PITCH,
    PLATE,
    SMALL,
    bad,
    bars_of,
    facing,
    frayed,
    measured,
    notched,
    pinned,
    plated,
    punched,
    told_thickness,
    truth,
)
from splicewright.errors import InputError
from splicewright.photographs.hole_rows import PlannedHole
from splicewright.photographs.measures import Value
from splicewright.photographs.measuring import (
    measure_edges,
    measure_holes,
    measure_plates,
    measure_square_line,
    measure_two_ends,
)
from splicewright.photographs.picture import Picture, read_picture
from splicewright.photographs.pin_ends import Pin
from splicewright.photographs.plate_sides import PlannedRow

Off = tuple[str, float, float]
"""Measure, error, stated half-width [m]."""


def _near(values: Iterable[Value], known: dict[str, float]) -> list[Off]:
    return [(v.key, v.value - known[v.key], v.half_width) for v in values if v.key in known]


def _line(seed: int) -> list[Off]:
    scene = replace(draw(seed, size=SMALL, shadows=()), uncut=True, depth=0.0)
    made = measure_square_line(_taken(scene), bars_of(scene, seed))
    known = {"width": scene.width, "out_of_square": scene.chalk_skew}
    return [(f"line: {key}", off, half) for key, off, half in _near(made.end.values, known)]


def _notch(seed: int) -> list[Off]:
    scene, (wide, long), tear = notched(seed)
    values = measured(scene, seed).end.values
    side = "left" if tear[0] > 0 else "right"
    told: list[Off] = []
    for v in values:
        if v.key.startswith("notch"):
            true = wide if "width" in v.key else long
            told.append((v.key.rsplit("_", 1)[0], v.value - true, v.half_width))
        if v.key.startswith("damage"):
            end = scene.out_of_square / 2 * tear[0]
            known = {"depth": tear[2], "length": tear[3], "place": end - tear[1]}
            true = known[v.key.split()[2]]
            # A tear that is named where there is none is as wrong as can be.
            off = v.value - true if v.key.endswith(side) else np.inf
            told.append((f"tear: {v.key.split()[2]}", off, v.half_width))
    if not any(key.startswith("tear") for key, _, _ in told):
        told.append(("tear: not named", np.inf, 1.0))
    return told


def _edges(seed: int) -> list[Off]:
    scene, (way, _, deep, long) = frayed(seed)
    made = measure_edges(_taken(scene), bars_of(scene, seed))
    told = [(f"edges: {k}", e, h) for k, e, h in _near(made.end.values, {"width": scene.width})]
    side = "left" if way > 0 else "right"
    found = {v.key: v for v in made.end.values if v.key.startswith("damage 1")}
    for what, true in (("depth", deep), ("length", long)):
        v = found.get(f"damage 1 {what} {side}")
        told.append((f"edges: {what}", *((v.value - true, v.half_width) if v else (np.inf, 1.0))))
    if any(v.key.startswith("damage 2") for v in made.end.values):
        told.append(("edges: named where none is", np.inf, 1.0))
    return told


def _holes(seed: int) -> list[Off]:
    scene, plan, off, missing = punched(seed)
    planned = [PlannedHole(*hole) for hole in plan]
    thick = told_thickness(scene, seed)
    made, _ = measure_holes(_taken(scene), bars_of(scene, seed), planned, HOLE, thick)
    told: list[Off] = []
    seen = [k for k, hole in enumerate(made.holes) if hole.behind is not None]
    for k in seen:
        hole = made.holes[k]
        told.append(
            ("hole: from the cut", (hole.behind or 0) - off[k, 0], hole.behind_half_width or 0)
        )
        told.append(("hole: across", (hole.across or 0) - off[k, 1], hole.across_half_width or 0))
        if k == missing:
            told.append(("hole: named where none is", np.inf, 1.0))
    for row in made.rows:
        mine = [k for k in seen if planned[k].row == row]
        across = np.array([planned[k].across for k in mine])
        slope, middle = np.polyfit(across, off[mine, 0], 1)
        known = middle, slope * scene.width, off[mine, 1].mean()
        names = "row: from the cut", "row: lean", "row: across"
        for name, (value, half), true in zip(names, made.rows[row], known, strict=True):
            told.append((name, value - true, half))
        for k in mine:
            out = off[k, 0] - middle - slope * planned[k].across
            told.append(
                (
                    "hole: out of its line",
                    (made.holes[k].out or 0) - out,
                    made.holes[k].out_half_width or 0,
                )
            )
    return told


def _gap(seed: int) -> list[Off]:
    scene, known = facing(seed)
    made = measure_two_ends(_taken(scene), bars_of(scene, seed), told_thickness(scene, seed))
    return [(key.split("_")[0], off, half) for key, off, half in _near(made.end.values, known)]


def _plates(seed: int) -> list[Off]:
    scene, places, turns = plated(seed, 7)
    row = PlannedRow(COUNT, PITCH, PLATE, LONG, HIGH)
    made, _, _ = measure_plates(_taken(scene), bars_of(scene, seed), row)
    told: list[Off] = []
    seen = np.array([p.number - 1 for p in made.plates if not p.missing])
    steps = (COUNT - 1) / 2 - seen
    pitch = np.polyfit(steps, places[seen], 1)
    even = np.polyval(pitch, steps)
    for i, n in enumerate(seen):
        p = made.plates[n]
        told.append(
            ("plate: off the even row", (p.off or 0) - (places[n] - even[i]), p.half_width or 0)
        )
        told.append(("plate: turned [rad]", (p.tilt or 0) - turns[n], p.tilt_half_width or 0))
    told.append(("pitch", made.pitch - pitch[0], made.pitch_half_width))
    outer = (scene.width / 2 - places[0], scene.width / 2 + places[-1])
    for setback, known in zip(made.setbacks, outer, strict=True):
        if setback is not None:
            told.append(("set-back", setback[0] - known + PLATE / 2, setback[1]))
    if [p.number for p in made.plates if p.missing] != [7]:
        told.append(("plate: the missing one not named", np.inf, 1.0))
    return told


def _pin(seed: int) -> list[Off]:
    scene, out = pinned(seed)
    row = PlannedRow(COUNT, PITCH, PLATE, LONG, HIGH)
    pin = Pin(0.007, told_thickness(scene, seed))
    _, _, pins = measure_plates(_taken(scene), bars_of(scene, seed), row, pin)
    told: list[Off] = [
        ("pin" if v.key == "pin_left" else "pin: named where none is",
         v.value - out if v.key == "pin_left" else np.inf, v.half_width)
        for v, _ in pins
    ]  # fmt: skip
    if not any(v.key == "pin_left" for v, _ in pins):
        told.append(("pin: not named", np.inf, 1.0))
    return told


FURTHER: dict[str, Callable[[int], list[Off]]] = {
    "line": _line,
    "notch": _notch,
    "edges": _edges,
    "holes": _holes,
    "gap": _gap,
    "plates": _plates,
    "pin": _pin,
}
"""Further measures: of a seed, (measure, error, stated half-width)."""


def _taken(scene: Scene) -> list[Picture]:
    return [read_picture(photograph(scene), "one.jpg")]


def looked_at(seed: int, kind: str = "") -> dict[str, Any]:
    """One scene, good or of a bad kind: error and stated half-width of each measure [m]."""
    told: dict[str, Any] = {"seed": seed, "kind": kind}
    try:
        if kind in FURTHER:
            return {**told, "list": FURTHER[kind](seed)}
        scene = bad(kind, seed) if kind else draw(seed, size=SMALL)
        made = measured(scene, seed)
    except InputError as error:
        return {**told, "refused": [fault.sentence for fault in error.faults]}
    known = truth(scene)
    values = [v for v in made.end.values if v.key in known]
    return {**told, "off": {v.key: (v.value - known[v.key], v.half_width) for v in values}}


def table(lines: list[dict[str, Any]]) -> str:
    """The accuracy table, and what was refused."""
    good = [line for line in lines if not line["kind"]]
    accepted = [line for line in good if "off" in line]
    rows = [f"{len(good)} scenes, {len(accepted)} accepted"]
    shares = []
    for key in truth(draw(0)):
        off = np.array([line["off"][key] for line in accepted if key in line["off"]])
        if len(off):
            error = np.abs(off[:, 0]) * 1e3
            inside = error <= off[:, 1] * 1e3
            shares += list(inside)
            rows.append(
                f"| {key} | {np.sqrt(np.mean(error**2)):.2f} mm | {np.quantile(error, 0.95):.1f} mm"
                f" | ± {np.median(off[:, 1]) * 1e3:.1f} mm | {inside.mean():.1%} |"
            )
    rows.append(f"all: {np.mean(shares):.1%} of {len(shares)} within" if shares else "none")
    largest = [abs(e) / h for line in accepted for e, h in line["off"].values()]
    rows.append(f"largest error {max(largest, default=0):.2f} times the stated range")
    reasons: dict[str, int] = {}
    for line in good:
        for said in line.get("refused", ())[:1]:
            reasons[said[:60]] = reasons.get(said[:60], 0) + 1
    rows += _further(lines)
    rows += [f"refused {n}: {said}" for said, n in sorted(reasons.items(), key=lambda r: -r[1])]
    for kind in BAD:
        mine = [line for line in lines if line["kind"] == kind]
        if mine:
            rows.append(f"{kind}: {sum('refused' in line for line in mine)} of {len(mine)} refused")
    return "\n".join(rows)


def _further(lines: list[dict[str, Any]]) -> list[str]:
    rows = []
    for kind in FURTHER:
        mine = [line for line in lines if line["kind"] == kind]
        every = [off for line in mine for off in line.get("list", ())]
        if mine:
            accepted = sum("list" in line for line in mine)
            rows.append(f"{kind}: {len(mine)} scenes, {accepted} accepted")
        for key in sorted({key for key, _, _ in every}):
            off = np.array([(e, h) for k, e, h in every if k == key], dtype=float)
            error = np.abs(off[:, 0])
            rows.append(
                f"| {key} | {len(off)} | {np.sqrt(np.mean(error**2)) * 1e3:.2f} | "
                f"± {np.median(off[:, 1]) * 1e3:.2f} | {np.mean(error <= off[:, 1]):.1%} |"
            )
    return rows


def main(
    kept: Path,
    first: int,
    last: int,
    bad_from: int = 6000,
    bad_to: int = 6000,
    further_from: int = 9000,
    further_to: int = 9000,
) -> None:
    """Look at every scene that is not in the file yet, then print the table."""
    lines = [json.loads(line) for line in kept.read_text().splitlines()] if kept.exists() else []
    done = {(line["seed"], line["kind"]) for line in lines}
    asked = [(seed, "") for seed in range(first, last)]
    asked += [(seed, kind) for seed in range(bad_from, bad_to) for kind in BAD]
    asked += [(seed, kind) for seed in range(further_from, further_to) for kind in FURTHER]
    with kept.open("a") as file:
        for seed, kind in asked:
            if (seed, kind) not in done:
                lines.append(looked_at(seed, kind))
                print(json.dumps(lines[-1]), file=file, flush=True)
    print(table(lines))


if __name__ == "__main__":
    main(Path(sys.argv[1]), *map(int, sys.argv[2:8]))
