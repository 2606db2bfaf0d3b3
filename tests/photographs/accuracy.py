"""How accurate, over many scenes: in tests/, `python -m photographs.accuracy out.jsonl 5000 5500`.

Each line of the file is one scene: what was measured, stated and true, or why it was refused.
Run again it goes on where it stopped. The table of docs/photographs.md is printed from it.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

from photographs.rendering import draw
from photographs.scenes import BAD, SMALL, bad, measured, truth
from splicewright.errors import InputError


def looked_at(seed: int, kind: str = "") -> dict[str, Any]:
    """One scene, good or of a bad kind: error and stated half-width of each measure [m]."""
    scene = bad(kind, seed) if kind else draw(seed, size=SMALL)
    told: dict[str, Any] = {"seed": seed, "kind": kind}
    try:
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
    rows += [f"refused {n}: {said}" for said, n in sorted(reasons.items(), key=lambda r: -r[1])]
    for kind in BAD:
        mine = [line for line in lines if line["kind"] == kind]
        if mine:
            rows.append(f"{kind}: {sum('refused' in line for line in mine)} of {len(mine)} refused")
    return "\n".join(rows)


def main(kept: Path, first: int, last: int, bad_from: int = 6000, bad_to: int = 6000) -> None:
    """Look at every scene that is not in the file yet, then print the table."""
    lines = [json.loads(line) for line in kept.read_text().splitlines()] if kept.exists() else []
    done = {(line["seed"], line["kind"]) for line in lines}
    asked = [(seed, "") for seed in range(first, last)]
    asked += [(seed, kind) for seed in range(bad_from, bad_to) for kind in BAD]
    with kept.open("a") as file:
        for seed, kind in asked:
            if (seed, kind) not in done:
                lines.append(looked_at(seed, kind))
                print(json.dumps(lines[-1]), file=file, flush=True)
    print(table(lines))


if __name__ == "__main__":
    main(Path(sys.argv[1]), *map(int, sys.argv[2:6]))
