"""Speed of the plate loads, as ratios within one run.

    python -m benchmarks.bench_sharing

1. a new belt width to its first answer, imports included, in the mesh that limits, loads and
   damage are worked with, and in one three times finer; 2. one scenario on the condensed belt
   against a fresh finite-element solve of the same scenario, at equal answer; 3. 1000 random
   damage states. Times of a core (processor time) stand beside those of the clock.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

START, CORE = time.perf_counter(), time.process_time()
sys.path.insert(0, str(Path(__file__).parents[1] / "src"))

import numpy as np  # noqa: E402
from numpy.typing import NDArray  # noqa: E402, TC002

from splicewright.joint.loads.hinge import Hinge, pin_bending, share_both  # noqa: E402
from splicewright.joint.loads.membrane import PlateRow, edge_stretches, even_row, free_compliance  # noqa: E402
from splicewright.joint.loads.meshing import Strip  # noqa: E402
from splicewright.joint.loads.response import response_of  # noqa: E402
from splicewright.joint.loads.sharing import Guidance, share, straightened  # noqa: E402
from splicewright.joint.loads.stiffness import REFINE, Case  # noqa: E402

STRIP = Strip(1.0, 6e6, 3e6, 3e5)
ROW = even_row(23, 0.043, 0.038)
PLATE, PULL = 2e6, 4e4


def fresh_solve(
    strip: Strip, row: PlateRow, alive: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], float]:
    """Mesh, assemble, add the plates as springs, factor and solve: nothing kept."""
    from scipy.sparse import csc_matrix
    from scipy.sparse.linalg import splu

    from splicewright.joint.loads.meshing import mesh_strip

    lines, plate_at = edge_stretches(strip, row)
    model = mesh_strip(strip, lines, row.plate_width, 3)
    free = np.setdiff1d(np.arange(model.stiffness.shape[0]), model.held)
    plates = csc_matrix(model.edge_loads[:, plate_at[alive]])[free]
    inner = (model.stiffness[free][:, free] + PLATE * plates @ plates.T).tocsc()
    factor = splu(
        inner,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    # Loads for one unit of pin travel; the problem is linear, so scale to the pull.
    moved = factor.solve(PLATE * np.asarray(plates.sum(axis=1)).ravel())
    loads = np.zeros(len(row))
    loads[alive] = PLATE * (1 - plates.T @ moved)
    return loads * PULL / loads.sum(), model.length


def best(work: Callable[[], object], times: int) -> float:
    """Shortest of several runs [s]."""
    spans = []
    for _ in range(times):
        begin = time.perf_counter()
        work()
        spans.append(time.perf_counter() - begin)
    return min(spans)


def main() -> None:
    from splicewright.joint.loads.membrane import _factored

    alive = np.arange(23) > 1
    first = free_compliance(STRIP, ROW, refine=REFINE)
    coarse = share(first, PLATE, PULL, alive=alive).worst
    print(
        "new belt width to first answer, imports included: "
        f"{time.perf_counter() - START:.2f} s, {time.process_time() - CORE:.2f} s of a core"
    )
    for refine in (REFINE, 3):
        spans = []
        for _ in range(5):
            _factored.cache_clear()
            begin = time.process_time()
            edge = free_compliance(STRIP, ROW, refine=refine)
            spans.append(time.process_time() - begin)
        print(
            f"the same, imports done, {refine} elements across a plate: {min(spans):.3f} s of a "
            f"core, {edge.unknowns} unknowns"
        )
    fine = share(edge, PLATE, PULL, alive=alive).worst
    print(f"the plate worst off in the two meshes apart by {abs(coarse / fine - 1):.1e}")

    loads, length = fresh_solve(STRIP, ROW, alive)
    hold = Guidance("clamped at the mesh's end", length / STRIP.bending_stiffness)
    ours = share(edge, PLATE, PULL, alive=alive, guidance=hold)
    print(
        f"largest difference of a plate load: {np.abs(ours.loads / PULL - loads / PULL).max():.1e}"
    )
    fresh = best(lambda: fresh_solve(STRIP, ROW, alive), 3)
    single = best(lambda: share(edge, PLATE, PULL, alive=alive, guidance=hold), 50)
    many = np.random.default_rng(4).random((1000, 23)) > 0.12
    many[:, [0, -1]] = True
    states = best(lambda: share(edge, PLATE, PULL, alive=many), 5)
    slack = np.random.default_rng(5).uniform(0, 5e-3, (1000, 23))
    loose = best(lambda: share(edge, PLATE, PULL, alive=many, slack=slack), 5)
    hinge, held = Hinge(edge, edge, pin_bending(0.01)), straightened(STRIP, PULL)
    both = np.concatenate([many, many[::-1]], axis=1)
    hinged = best(lambda: share_both(hinge, PLATE, PULL, alive=both, guidance=held), 5)
    print(f"fresh finite-element solve: {fresh:.3f} s")
    print(f"one scenario alone, direct: {single * 1e6:.0f} us, {fresh / single:.0f} times faster")
    sound = response_of(Case("kept", edge, PLATE, hold))
    lost, pull, none = np.flatnonzero(~alive), np.array([PULL]), np.zeros((1, len(ROW)))

    def kept() -> NDArray[np.float64]:
        return sound.changed(lost, np.zeros(len(lost))).loads(pull, none)

    print(
        f"the same from the response: apart by {np.abs(kept()[0] / PULL - loads / PULL).max():.1e}"
    )
    quick = best(kept, 200)
    print(f"one scenario from the response: {quick * 1e6:.0f} us, {fresh / quick:.0f} times faster")
    print(f"1000 damage states: {states:.3f} s, each {fresh / states * 1e3:.0f} times faster")
    print(f"1000 damage states with slack plates: {loose:.3f} s")
    print(f"1000 damage states of both ends and the pin as one: {hinged:.3f} s")


if __name__ == "__main__":
    main()
