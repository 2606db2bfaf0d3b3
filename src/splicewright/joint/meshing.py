"""Finite elements of a belt end: plate-aligned mesh, assembly, and the one factorisation.

scikit-fem and the sparse solver are known to this module only.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scipy.sparse import csc_matrix

    from splicewright.joint.membrane import Strip

Array = NDArray[np.float64]

DECAYS = 6.0
"""Meshed length in decay lengths of the slowest uneven pull: what is reflected is exp(-12)."""

GROWTH = 1.3
"""Each element along the belt is longer than the one before by this."""


@dataclass(frozen=True, slots=True, eq=False)
class StripModel:
    """A meshed belt end: stiffness, loads on its edge, and what is needed to read it.

    Attributes
    ----------
    length : meshed length of belt [m]
    stiffness : `(dofs, dofs)`
    edge_loads : unit pull spread evenly on each stretch of the edge, `(dofs, stretches)`
    held : dofs that cannot move: the far end along the belt, and one point across
    element_dofs, strain_loads : dofs of each element and its load per unit strain built in
        along the belt, both `(local, elements)`
    element_x, element_stretch : middle of each element [m] and the stretch it lies behind
    """

    length: float
    stiffness: csc_matrix
    edge_loads: csc_matrix
    held: NDArray[np.intp]
    element_dofs: NDArray[np.intp]
    strain_loads: Array
    element_x: Array
    element_stretch: NDArray[np.intp]

    @property
    def unknowns(self) -> int:
        """Free degrees of freedom."""
        return int(self.edge_loads.shape[0] - len(self.held))

    def built_in_strain(self, solution: Array, far: float) -> Array:
        """Edge movement per unit strain built into the belt from the edge to `far` [m].

        By Betti: the tension that a unit pull of each plate raises, summed over the strained
        part. `solution` is `(dofs, plates)`; returns `(plates, stretches)` [m].
        """
        near = np.flatnonzero(self.element_x < far)
        stretches = int(self.edge_loads.shape[1])
        drawn = np.zeros((stretches, solution.shape[1]))
        dofs, loads = self.element_dofs[:, near], self.strain_loads[:, near]
        work = -np.einsum("le,lep->ep", loads, solution[dofs])
        np.add.at(drawn, self.element_stretch[near], work)
        return np.ascontiguousarray(-drawn.T)


def mesh_lines(
    strip: Strip,
    stretches: Array,
    plate_width: float,
    refine: int,
    transition_lengths: tuple[float, ...] = (),
    decays: float = DECAYS,
) -> tuple[Array, Array]:
    """Lines of the mesh along x and y.

    Across: every plate edge is a line, a stretch is cut into elements no wider than a plate's
    width over `refine`. Along: fine at the edge, growing, a line at every transition length.

    Returns
    -------
    x, y : ascending [m]
    """
    size = plate_width / refine
    across = [stretches[:1]]
    for low, high in itertools.pairwise(stretches):
        count = max(1, math.ceil((high - low) / size - 1e-9))
        across.append(np.linspace(low, high, count + 1)[1:])
    slender = math.sqrt(strip.warp_modulus / strip.shear_modulus)
    decay = strip.width / (2 * math.pi) * max(slender, math.pi / 2)
    length = decays * decay + max(transition_lengths, default=0.0)
    growth = 1 + (GROWTH - 1) * min(1.0, 2 / refine)
    # Where the weft is soft against the warp, the field is drawn out along by this.
    steps = [0.5 * size * max(1.0, slender)]
    largest = decay / refine
    while sum(steps) < length:
        steps.append(min(steps[-1] * growth, largest))
    x = np.concatenate([[0.0], np.cumsum(steps) * length / sum(steps)])
    wanted = [far for far in transition_lengths if far > 0]
    for far in wanted:
        at = int(np.argmin(np.abs(x[1:-1] - far))) + 1
        free = abs(x[at] - far) < 0.3 * min(x[at] - x[at - 1], x[at + 1] - x[at])
        if free and x[at] not in wanted:
            x[at] = far
        else:
            x = np.unique(np.append(x, far))
    return x, np.concatenate(across)


def mesh_strip(
    strip: Strip,
    stretches: Array,
    plate_width: float,
    refine: int,
    transition_lengths: tuple[float, ...] = (),
    *,
    weft_locked: bool = False,
) -> StripModel:
    """Mesh a belt end with second-order quadrilaterals and assemble it.

    Parameters
    ----------
    strip : the belt
    stretches : y-lines of plates and gaps along the edge [m]
    plate_width : width of a plate [m]
    refine : elements across a plate [1]
    transition_lengths : x-lines the mesh must have [m]
    weft_locked : hold every point sideways, the limit that has a closed form
    """
    from scipy.sparse import csc_matrix
    from skfem import Basis, BilinearForm, ElementQuad2, ElementVector, LinearForm, MeshQuad

    # With a locked weft the one-sided pull fades too, at twice the length.
    decays = 2 * DECAYS if weft_locked else DECAYS
    x, y = mesh_lines(strip, stretches, plate_width, refine, transition_lengths, decays)
    mesh = MeshQuad.init_tensor(x, y).with_boundaries(
        {
            "cut": lambda p: np.abs(p[0]) < 1e-12,
            "far": lambda p: np.abs(p[0] - x[-1]) < 1e-9 * x[-1],
        }
    )
    basis = Basis(mesh, ElementVector(ElementQuad2()), intorder=4)
    warp = strip.warp_modulus / strip.coupling
    weft = strip.weft_modulus / strip.coupling
    cross = strip.poisson * weft
    shear = strip.shear_modulus

    def virtual_work(u: Any, v: Any, _: Any) -> Any:
        du, dv = u.grad, v.grad
        along = warp * du[0, 0] + cross * du[1, 1]
        over = cross * du[0, 0] + weft * du[1, 1]
        slide = shear * (du[0, 1] + du[1, 0])
        return along * dv[0, 0] + over * dv[1, 1] + slide * (dv[0, 1] + dv[1, 0])

    def built_in(v: Any, _: Any) -> Any:
        return warp * v.grad[0, 0] + cross * v.grad[1, 1]

    def pull(v: Any, _: Any) -> Any:
        return -v[0]

    stiffness = BilinearForm(virtual_work).assemble(basis)
    strain_loads = LinearForm(built_in).elemental(basis).data.reshape(basis.Nbfun, -1)
    cut = basis.boundary("cut")
    loads = LinearForm(pull).elemental(cut).data.reshape(cut.Nbfun, -1)
    facet_y = mesh.p[1, mesh.facets[:, cut.find]].mean(axis=0)
    stretch = np.searchsorted(stretches, facet_y) - 1
    entries = (loads / np.diff(stretches)[stretch]).ravel()
    columns = np.broadcast_to(stretch, loads.shape).ravel()
    edge_loads = csc_matrix(
        (entries, (cut.element_dofs.ravel(), columns)), shape=(basis.N, len(stretches) - 1)
    )
    far = basis.get_dofs("far")
    if weft_locked:
        sideways = basis.get_dofs(elements=np.arange(mesh.nelements)).all("u^2")
    else:
        sideways = far.all("u^2")[:1]
    middle = mesh.p[:, mesh.t].mean(axis=1)
    return StripModel(
        float(x[-1]),
        csc_matrix(stiffness),
        edge_loads,
        np.union1d(far.all("u^1"), sideways).astype(np.intp),
        basis.element_dofs.astype(np.intp),
        strain_loads,
        middle[0],
        np.searchsorted(stretches, middle[1]) - 1,
    )


def factored_strip(model: StripModel) -> Callable[[Array], Array]:
    """Factor a model once; the answer solves any loads `(dofs, cases)` for displacements.

    The only place that knows the sparse solver: symmetric minimum degree, no pivoting, which
    is right for a positive definite matrix.
    """
    from scipy.sparse.linalg import splu

    free = np.setdiff1d(np.arange(model.stiffness.shape[0]), model.held)
    inner = model.stiffness[free][:, free].tocsc()
    factor = splu(
        inner,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )

    def solve(loads: Array) -> Array:
        answer = np.zeros_like(loads)
        answer[free] = factor.solve(np.ascontiguousarray(loads[free]))
        return answer

    return solve
