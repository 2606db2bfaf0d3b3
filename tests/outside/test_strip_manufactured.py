"""The mesh of a belt end against a solution that was chosen first.

Method of manufactured solutions (Roache, J. Fluids Eng. 124, 2002, 4; the procedure from memory):
movements u, v are chosen, what must load the belt for them follows by the weak form, put together
here by Gauss quadrature of its own, and the mesh must give u, v back, nearer by the order of its
elements with every refinement. Second-order elements: movements err as h^3 (any textbook of finite
elements).
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray

from proof import noted, proves
from splicewright.joint.loads.meshing import Strip, factored_strip, mesh_strip

Array = NDArray[np.float64]
POINTS = 5
"""Gauss points in each element each way: exact to the 9th power, the rest is below the error."""


def line(ends: Array) -> tuple[Array, Array, Array, Array]:
    """Points, weights, and shapes and slopes of second-order elements, `(nodes, points)`."""
    at, weight = leggauss(POINTS)
    r, size = (at + 1) / 2, np.diff(ends)
    shapes = np.array([(1 - r) * (1 - 2 * r), 4 * r * (1 - r), r * (2 * r - 1)])
    slopes = np.array([4 * r - 3, 4 - 8 * r, 4 * r - 1])
    value, slope = np.zeros((2, 2 * len(size) + 1, len(size) * POINTS))
    for n, h in enumerate(size):
        nodes, inside = slice(2 * n, 2 * n + 3), slice(n * POINTS, (n + 1) * POINTS)
        value[nodes, inside], slope[nodes, inside] = shapes, slopes / h
    points = (ends[:-1, None] + size[:, None] * r).ravel()
    return points, (size[:, None] * weight / 2).ravel(), value, slope


def error(strip: Strip, refine: int) -> float:
    """Distance of the mesh's movements from the chosen ones, over the size of these."""
    stretches = strip.width * np.linspace(-0.5, 0.5, 6) ** 3 * 4  # unequal stretches
    model = mesh_strip(strip, stretches, strip.width / 5, refine)
    (x, wx, nx, dx), (y, wy, ny, dy) = line(model.x), line(model.y)
    fade, far, (a, b) = strip.width / 1.7, model.length, (2.3 / strip.width, 3.1 / strip.width)
    down, end = np.exp(-x / fade)[:, None], np.exp(-far / fade)
    u = 3e-3 * (down - end) * np.cos(a * y + 0.4)
    u_x, u_y = (
        -3e-3 / fade * down * np.cos(a * y + 0.4),
        -3e-3 * a * (down - end) * np.sin(a * y + 0.4),
    )
    v = 1e-3 * (down * np.sin(b * y) - end * np.sin(-b * strip.width / 2))
    v_x, v_y = -1e-3 / fade * down * np.sin(b * y), 1e-3 * b * down * np.cos(b * y)
    # Plane stress of an orthotropic sheet, per width: Hooke's law written out.
    other = strip.poisson * strip.weft_modulus / strip.warp_modulus
    both = 1 - strip.poisson * other
    pull = strip.warp_modulus / both * (u_x + other * v_y)
    across = strip.weft_modulus / both * (v_y + strip.poisson * u_x)
    shear = strip.shear_modulus * (u_y + v_x)
    area = np.outer(wx, wy)
    along_load = dx @ (area * pull) @ ny.T + nx @ (area * shear) @ dy.T
    across_load = nx @ (area * across) @ dy.T + dx @ (area * shear) @ ny.T
    loads = np.concatenate([along_load.ravel(), across_load.ravel()])[:, None]
    found_u, found_v = factored_strip(model)(loads).reshape(2, nx.shape[0], ny.shape[0])
    off = (nx.T @ found_u @ ny - u) ** 2 + (nx.T @ found_v @ ny - v) ** 2
    return float(np.sqrt((area * off).sum() / (area * (u**2 + v**2)).sum()))


@proves(
    "Plate loads",
    "A manufactured solution of the belt end",
    "C",
    "Movements along and across that fade into the belt are chosen, with unequal moduli and a "
    "belt that narrows; their loads are put on the mesh, which must give the movements back, "
    "nearer by the third power of the element.",
    doubt="Exact: the solution was chosen. Loads by quadrature, good to about 1e-12.",
    tolerance="order 3 as for second-order elements, give or take 0.3, because the element along "
    "grows away from the edge and is not halved everywhere alike; 2e-5 at the finest mesh",
    sketch="strip",
)
def test_the_mesh_gives_back_a_solution_that_was_chosen_at_third_order() -> None:
    strip = Strip(1.2, 6e6, 2.5e6, 3.3e5, 0.25)
    sizes = np.array([2, 4, 8])
    errors = np.array([error(strip, int(n)) for n in sizes])
    orders = np.log2(errors[:-1] / errors[1:])
    for n, order in zip(sizes[1:], orders, strict=True):
        noted(f"order from {n // 2} to {n} elements across a plate", order, 3.0, 0.3)
    noted("error of the finest mesh, of the size of the movement", errors[-1], 0.0, 2e-5)
    np.testing.assert_allclose(orders[-1], 3.0, atol=0.3)
    assert errors[-1] < 2e-5
