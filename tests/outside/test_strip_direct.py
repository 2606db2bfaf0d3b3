"""Condensed belt end against one direct finite-element solve with scikit-fem itself.

The reference assembles its own forms with `skfem.helpers`, adds the plates as springs to the
big matrix and solves with the pin's position unknown. Same mesh, so it must agree to rounding.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import skfem
from scipy.sparse import bmat, csc_matrix, csr_matrix
from scipy.sparse.linalg import spsolve
from skfem.helpers import sym_grad

from proof import proves
from splicewright.joint.loads.membrane import PlateRow, edge_stretches, free_compliance
from splicewright.joint.loads.meshing import Strip, mesh_lines
from splicewright.joint.loads.sharing import Guidance, share

pytestmark = proves(
    "Plate loads",
    "Condensed belt end against one direct solve",
    "B",
    "scikit-fem assembles the same end from its own forms with plates as springs and the pin "
    "unknown.",
    doubt="Same mesh: must agree to rounding.",
    tolerance="1e-8: rounding of two large systems solved differently",
    sketch="strip",
)


STRIP = Strip(0.8, 5e6, 1.6e6, 2.7e5, 0.3)
ROW = PlateRow((0.34, 0.25, 0.15, 0.04, -0.1, -0.21, -0.33), 0.08)
PLATES = np.array([1.9e6, 2.5e6, 2.0e6, 1.8e6, 2.2e6, 1.5e6, 2.0e6])
SLACK = np.array([0.0, 0.2, 0.3, 0.0, 0.1, 0.4, 0.0]) * 1e-3


def _direct(alive: np.ndarray, strain: np.ndarray, far: float, pull: float) -> Any:
    """Plate loads and mesh length from one big solve."""
    lines, plate_at = edge_stretches(STRIP, ROW)
    x, y = mesh_lines(STRIP, lines, ROW.plate_width, 2)
    mesh = skfem.MeshQuad.init_tensor(x, y)
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementQuad2()))
    nu2 = STRIP.poisson * STRIP.weft_modulus / STRIP.warp_modulus
    c = 1 - STRIP.poisson * nu2
    d11, d22 = STRIP.warp_modulus / c, STRIP.weft_modulus / c
    d12, d33 = STRIP.poisson * d22, STRIP.shear_modulus

    def work(u: Any, v: Any, _: Any) -> Any:
        e, d = sym_grad(u), sym_grad(v)
        return (
            (d11 * e[0, 0] + d12 * e[1, 1]) * d[0, 0]
            + (d12 * e[0, 0] + d22 * e[1, 1]) * d[1, 1]
            + 4 * d33 * e[0, 1] * d[0, 1]
        )

    def built_in(v: Any, w: Any) -> Any:
        d = sym_grad(v)
        e = strain[np.clip(np.searchsorted(lines, w.x[1]) - 1, 0, strain.size - 1)]
        return -np.where(w.x[0] < far, e, 0.0) * (d11 * d[0, 0] + d12 * d[1, 1])

    def patch(v: Any, _: Any) -> Any:
        return -v[0] / ROW.plate_width

    columns = []
    for at in plate_at[alive]:
        low, high = lines[at], lines[at + 1]
        facets = mesh.facets_satisfying(
            lambda p, low=low, high=high: (p[0] == 0) & (p[1] > low) & (p[1] < high)
        )
        columns.append(
            skfem.LinearForm(patch).assemble(skfem.FacetBasis(mesh, basis.elem, facets=facets))
        )
    load = csc_matrix(np.column_stack(columns))
    end = basis.get_dofs(lambda p: np.isclose(p[0], x[-1]))
    held = np.append(end.all("u^1"), end.all("u^2")[0])
    free = basis.complement_dofs(held)
    springs = csr_matrix(np.diag(PLATES[alive]))
    m = load[free]
    ones = csr_matrix(np.ones((int(alive.sum()), 1)))
    # Plate load = k (pin - edge - slack); pin position last, fixed by the total pull.
    stiff = skfem.BilinearForm(work).assemble(basis)[free][:, free] + m @ springs @ m.T
    gap = csr_matrix(SLACK[alive][:, None])
    system = bmat(
        [[stiff, -m @ springs @ ones], [ones.T @ springs @ m.T, -ones.T @ springs @ ones]]
    ).tocsc()
    f = skfem.LinearForm(built_in).assemble(basis)[free] - (m @ springs @ gap).toarray()[:, 0]
    g = -pull - float((ones.T @ springs @ gap).toarray()[0, 0])
    found = spsolve(system, np.append(f, g))
    moved, pin = m.T @ found[:-1], found[-1]
    return PLATES[alive] * (pin - moved - SLACK[alive]), float(x[-1])


@pytest.mark.parametrize("lost", [(), (0, 4)])
def test_condensed_equals_direct(lost: tuple[int, ...]) -> None:
    pull = 3e4
    lines, _ = edge_stretches(STRIP, ROW)
    # Up to a line of the mesh, so that the direct solve integrates the step in strain exactly.
    x = mesh_lines(STRIP, lines, ROW.plate_width, 2)[0]
    far = float(x[np.abs(x - 0.5).argmin()])
    strain = 1e-3 * np.linspace(-0.6, 1.0, lines.size - 1) ** 2
    alive = np.ones(len(ROW), dtype=bool)
    alive[list(lost)] = False
    expected, length = _direct(alive, strain, far, pull)
    assert (expected > 0).all()
    edge = free_compliance(STRIP, ROW, (far,), refine=2)
    # The far end of the mesh is clamped: a belt of that length swings by L/EI, and the
    # built-in strain bends and stretches it; both are taken out of the condensed belt.
    area, middle = np.diff(lines), (lines[1:] + lines[:-1]) / 2
    bend = far * 12 / STRIP.width**3 * float(strain @ (area * middle))
    drawn = edge.drawn_back(strain) + bend * ROW.y
    hold = Guidance("clamped", length / STRIP.bending_stiffness)
    ours = share(edge, PLATES, pull, slack=SLACK - drawn, alive=alive, guidance=hold)
    np.testing.assert_allclose(ours.loads[alive], expected, rtol=1e-8)
    assert ours.loads[~alive].tolist() == [0.0] * len(lost)
