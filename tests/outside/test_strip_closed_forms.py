"""The belt end against closed forms of plane elasticity.

Sources, beside each check: separation of variables for E u_xx + G u_yy = 0; plane stress of
an orthotropic strip with free sides (Airy function, end effects after Choi and Horgan 1977,
equation derived again here); beam theory; Hooke's law. Nothing below was printed by the code
under test first.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_bvp
from scipy.optimize import Bounds, LinearConstraint, brentq, minimize

from proof import proves
from splicewright.joint.loads.membrane import (
    PlateRow,
    decay_length,
    edge_stretches,
    even_row,
    free_compliance,
    locked_compliance,
    mode_compliance,
)
from splicewright.joint.loads.meshing import Strip, factored_strip, mesh_strip
from splicewright.joint.loads.sharing import guided, share, straightened

# The belt of the hand calculation: 1000 mm, 6000 and 300 N/mm, 23 plates of 38 mm at 43 mm,
# 2000 N/mm each, pulled with 40 N/mm.
Array = NDArray[np.float64]
BELT = Strip(1.0, 6e6, 3e6, 3e5)
ROW = even_row(23, 0.043, 0.038)
PLATE, PULL = 2e6, 4e4


@proves(
    "Plate loads",
    "One mode of the belt end",
    "C",
    "E u'' = G k2 u with a unit pull, solved numerically without any formula of the tool.",
    doubt="SciPy's boundary-value solver at its tolerance of 1e-8.",
    tolerance="1e-5: the belt is cut off after 6 m, where the movement is not quite nil",
    sketch="strip",
)
def test_mode_compliance_solves_the_membrane_equation() -> None:
    """E u'' = G k^2 u, u'(0) = -1/E, u -> 0: solved numerically, no formula of ours."""
    width, warp, shear, mode = 1.3, 5e6, 4e5, 3
    wave = mode * math.pi / width

    def slope(_: object, u: np.ndarray) -> np.ndarray:
        return np.vstack([u[1], shear / warp * wave**2 * u[0]])

    def ends(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.array([warp * a[1] + 1e6, b[0]])

    x = np.linspace(0, 6.0, 400)
    solved = solve_bvp(slope, ends, x, np.zeros((2, x.size)), tol=1e-8)
    assert mode_compliance(width, warp, shear, mode) == pytest.approx(
        solved.sol(0.0)[0] / 1e6, rel=1e-5
    )


def _fourier_loads(slack: np.ndarray, alive: np.ndarray) -> np.ndarray:
    """Plate loads over their mean, worked in N and mm with a minimiser instead of our solver."""
    width, pitch, plate = 1000.0, 43.0, 38.0
    y = width / 2 - pitch * (np.arange(23) - 11)
    flexible = np.eye(23) / 2000.0
    for n in range(1, 4001):
        k = n * math.pi / width
        mean = (np.sin(k * (y + plate / 2)) - np.sin(k * (y - plate / 2))) / (k * plate)
        flexible += 2 / width * width / (n * math.pi * math.sqrt(6000 * 300)) * np.outer(mean, mean)
    mean_load = 40 * width / 23
    at = np.flatnonzero(alive)
    a, b = flexible[np.ix_(at, at)] * mean_load, slack[at]

    def energy(p: Array) -> float:
        return float(0.5 * p @ a @ p + b @ p)

    def slope(p: Array) -> Array:
        return np.asarray(a @ p + b, dtype=np.float64)

    found = minimize(
        energy,
        np.full(at.size, 23 / at.size),
        jac=slope,
        bounds=Bounds(np.zeros(at.size), np.full(at.size, np.inf)),
        constraints=LinearConstraint(np.ones((1, at.size)), 23, 23),
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 500},
    )
    loads = np.zeros(23)
    loads[at] = found.x
    return loads


@proves(
    "Plate loads",
    "Two plates lost at one edge",
    "C",
    "Load of the next plate by a Fourier sum worked beforehand and by a minimiser in N and mm.",
    doubt=(
        "Series cut after enough terms for four digits; belt with weft locked, a limit of a "
        "real belt."
    ),
    tolerance="5e-4 of the mean load, the digits worked beforehand",
    sketch="strip",
)
def test_two_plates_lost_at_one_edge_with_the_weft_locked() -> None:
    """1.806 times the mean of all 23 on the next plate: Fourier sum, worked beforehand."""
    alive = np.arange(23) > 1
    ours = share(locked_compliance(BELT, ROW), PLATE, PULL, alive=alive).factors
    assert ours[2] == ours.max() == pytest.approx(1.806, abs=5e-4)
    np.testing.assert_allclose(ours, _fourier_loads(np.zeros(23), alive), atol=1e-5)


def test_end_out_of_square_with_the_weft_locked() -> None:
    """5 mm between the outermost plates: 1.414 on the edge plate; over the belt width less."""
    edge = locked_compliance(BELT, ROW)
    reach = ROW.y[0] - ROW.y[-1]
    between_plates = share(edge, PLATE, PULL, slack=5e-3 * ROW.y / reach).factors
    assert between_plates[-1] == pytest.approx(1.414, abs=6e-4)
    over_width = share(edge, PLATE, PULL, slack=5e-3 * ROW.y / 1.0).factors
    expected = _fourier_loads(5.0 * ROW.y / 1.0, np.ones(23, bool))
    np.testing.assert_allclose(over_width, expected, atol=1e-5)


@proves(
    "Plate loads",
    "An end cut back in the middle",
    "C",
    "The belt end is cut back by a parabola of 3 mm: load of the edge plate and of the worst one, "
    "by a Fourier sum worked beforehand and by a minimiser in N and mm.",
    doubt="Series cut after enough terms for four digits; belt with weft locked, a limit of a "
    "real belt.",
    tolerance="5e-4 of the mean load, the digits worked beforehand",
    sketch="strip",
)
def test_end_cut_back_in_the_middle_with_the_weft_locked() -> None:
    """3 mm parabola, full at the outermost plates: edge 0.578, worst 1.162."""
    edge = locked_compliance(BELT, ROW)
    curve = 3e-3 * (ROW.y / ROW.y[0]) ** 2
    loads = share(edge, PLATE, PULL, slack=curve).factors
    assert loads[0] == pytest.approx(0.578, abs=5e-4)
    assert loads.max() == pytest.approx(1.162, abs=5e-4)
    over_width = share(edge, PLATE, PULL, slack=3e-3 * (2 * ROW.y / 1.0) ** 2).factors
    expected = _fourier_loads(3.0 * (2 * ROW.y) ** 2, np.ones(23, bool))
    np.testing.assert_allclose(over_width, expected, atol=1e-5)


@proves(
    "Plate loads",
    "Order of convergence of the finite elements",
    "C",
    "The mesh is refined four times; the error against the closed form must fall with the "
    "square of the element.",
    doubt="Exact: a pull that jumps at plate edges allows order 2, not 4.",
    tolerance="order between 1.5 and 2.3: order 2, measured over three coarse halvings",
    sketch="strip",
)
def test_finite_elements_reach_the_closed_form_at_second_order() -> None:
    """A pull that jumps at plate edges leaves u ~ r log r: energy errs as h^2, not h^4."""
    strip, row = Strip(0.4, 6e6, 3e6, 3e5), even_row(7, 0.05, 0.044, offset=0.003)
    exact = locked_compliance(strip, row).matrix
    lines, at = edge_stretches(strip, row)
    errors, sizes = [], np.array([1, 2, 4, 8])
    for refine in sizes:
        model = mesh_strip(strip, lines, row.plate_width, int(refine), weft_locked=True)
        moved = factored_strip(model)(model.edge_loads[:, at].toarray())
        matrix = model.edge_loads[:, at].T @ moved - model.length / (strip.warp_modulus * 0.4)
        errors.append(np.linalg.norm(matrix - exact) / np.linalg.norm(exact))
    order = -np.polyfit(np.log(sizes), np.log(errors), 1)[0]
    assert errors[2] < 1e-3
    assert 1.5 < order < 2.3


def test_finite_elements_give_the_lost_plates_figure_to_three_digits() -> None:
    lines, at = edge_stretches(BELT, ROW)
    model = mesh_strip(BELT, lines, ROW.plate_width, 3, weft_locked=True)
    moved = factored_strip(model)(model.edge_loads[:, at].toarray())
    matrix = model.edge_loads[:, at].T @ moved
    alive = slice(2, None)
    flexible = matrix[alive, alive] + np.eye(21) / PLATE
    # With the pull known, all loads follow from the flexibilities: P ~ A^-1 1 + const.
    bordered = np.block([[flexible, -np.ones((21, 1))], [np.ones((1, 21)), np.zeros((1, 1))]])
    loads = np.linalg.solve(bordered, np.r_[np.zeros(21), 23.0])
    assert loads[0] == pytest.approx(1.806, abs=1e-3)


@proves(
    "Plate loads",
    "How fast an uneven pull fades along the belt",
    "C",
    "Slowest decay of an orthotropic strip with free sides, from its own transcendental equation.",
    doubt="Equation derived again; root to 1e-12.",
    tolerance="1 % for the mesh, read over a tenth of a decay length",
    sketch="strip",
)
@pytest.mark.parametrize("side", ["even", "odd"])
def test_uneven_pull_fades_as_saint_venant_says(side: str) -> None:
    """Free sides: f = cos or sin(s γ y), f = f' = 0 at y = W/2 gives the slowest γ.

    a11 s^4 - (2 a12 + a66) s^2 + a22 = 0; even: s1 tan(s1 γh) = s2 tan(s2 γh); odd:
    tan(s1 γh)/s1 = tan(s2 γh)/s2.
    """
    strip = Strip(0.9, 6e6, 2.5e6, 3.3e5, 0.25)
    a11, a22, a66 = 1 / strip.warp_modulus, 1 / strip.weft_modulus, 1 / strip.shear_modulus
    b = a66 - 2 * strip.poisson * a11
    root = math.sqrt(b**2 - 4 * a11 * a22)
    s1, s2 = (math.sqrt((b + sign * root) / (2 * a11)) for sign in (1, -1))
    h = strip.width / 2
    if side == "even":

        def equation(k: float) -> float:
            return s1 * math.sin(s1 * k) * math.cos(s2 * k) - s2 * math.sin(s2 * k) * math.cos(
                s1 * k
            )

        k = brentq(equation, 1.02 * math.pi / 2 / s1, 1.3 * math.pi / s1)
    else:

        def equation(k: float) -> float:
            return s2 * math.sin(s1 * k) * math.cos(s2 * k) - s1 * math.sin(s2 * k) * math.cos(
                s1 * k
            )

        k = brentq(equation, 1.02 * math.pi / s1, 1.49 * math.pi / s1)
    gamma = k / h
    lines = np.linspace(-h, h, 19)
    far = decay_length(strip.width, strip.warp_modulus, strip.shear_modulus)
    stations = tuple(far * c for c in (4.0, 4.1, 5.0, 5.1))
    model = mesh_strip(strip, lines, 0.05, 2, decays=12.0)
    middle = (lines[1:] + lines[:-1]) / 2
    shape = middle**2 if side == "even" else middle**3
    rigid = np.polynomial.polynomial.polyvander(middle, 1)
    pull = shape - rigid @ np.linalg.lstsq(rigid, shape, rcond=None)[0]
    moved = factored_strip(model)((model.edge_loads @ pull)[:, None])
    tension = [
        model.built_in_strain(moved, stations[i + 1]) - model.built_in_strain(moved, stations[i])
        for i in (0, 2)
    ]
    faded = np.abs(tension[1]).max() / np.abs(tension[0]).max()
    assert -math.log(faded) / far == pytest.approx(gamma, rel=0.01)
    if side == "even":
        assert decay_length(strip.width, strip.warp_modulus, strip.shear_modulus) == pytest.approx(
            1 / gamma, rel=0.08
        )


def test_a_rigid_belt_shares_equally() -> None:
    stiff = Strip(1.0, 6e13, 3e13, 3e13)
    for edge in (locked_compliance(stiff, ROW), free_compliance(stiff, ROW, refine=1)):
        np.testing.assert_allclose(share(edge, PLATE, PULL).factors, 1.0, rtol=1e-6)


def test_plates_side_by_side_over_the_whole_width_share_equally() -> None:
    """An even pull on the whole edge is an exact solution: no plate is favoured."""
    row = even_row(20, 0.05, 0.05)
    for edge in (locked_compliance(BELT, row), free_compliance(BELT, row, refine=1)):
        np.testing.assert_allclose(share(edge, PLATE, PULL).factors, 1.0, atol=1e-7)


@proves(
    "Plate loads",
    "Built-in strain gives Hooke's law",
    "C",
    "A known strain built in far along the belt (a manufactured state) must come out as P = b "
    "(T + E (e - mean e)).",
    doubt="Exact for stiff plates without gaps.",
    tolerance="1e-5 for the closed form, whose series is cut; 1e-4 for the coarsest mesh",
    sketch="strip",
)
def test_built_in_strain_far_along_is_hookes_law() -> None:
    """Stiff plates without gaps cannot even out: P = b (T + E (e - mean e))."""
    row = even_row(10, 0.1, 0.1)
    strain = 2e-3 * np.linspace(-1, 1, 10) ** 2
    expected = 0.1 * (4e4 + BELT.warp_modulus * (strain - strain.mean()))
    far = 40.0
    locked = locked_compliance(BELT, row, (far,))
    loads = share(locked, 1e12, PULL, slack=-locked.drawn_back(strain)).loads
    np.testing.assert_allclose(loads, expected, rtol=1e-5)
    free = free_compliance(BELT, row, (6.0,), refine=1)
    loads = share(free, 1e12, PULL, slack=-free.drawn_back(strain), guidance=guided(BELT)).loads
    np.testing.assert_allclose(loads, expected, rtol=1e-4)


def test_short_built_in_strain_is_a_shortened_belt() -> None:
    """Over a length short against a plate the edge is drawn back by strain times length."""
    row = even_row(5, 0.2, 0.2)
    strain = np.array([0.0, 1.0, 0.0, 0.0, 0.0])
    far = 1e-5
    # Plates count from the left, stretches from the right.
    moved = locked_compliance(BELT, row, (far,)).drawn_back(strain)[::-1]
    np.testing.assert_allclose(moved - moved[4], far * strain, atol=2e-3 * far)


@proves(
    "Plate loads",
    "Out of square on a long guided belt",
    "C",
    "Moment of two stiff plates against a beam with shear.",
    doubt="Beam theory with shear factor 5/6, compared as the tool states it.",
    tolerance="rounding of floats: the beam is what the tool adds to the strip, so the case holds "
    "that it is added as stated",
    sketch="strip",
)
def test_out_of_square_of_a_long_guided_belt_follows_beam_theory() -> None:
    """Few stiff plates: moment = slope / (r + local), r = 1/sqrt(EI S), S = 5/6 G W."""
    strip = Strip(1.0, 6e6, 3e6, 3e5)
    row = PlateRow((0.45, -0.45), 0.02)
    edge = free_compliance(strip, row)
    lean = 1e-3
    shares = share(edge, 1e9, PULL, slack=lean * row.y, guidance=guided(strip))
    moment = float(shares.loads @ row.y)
    bending, shear = 6e6 / 12, 5 / 6 * 3e5
    local = (edge.matrix[0, 0] - edge.matrix[0, 1]) / (2 * 0.45**2) + 1 / (2 * 1e9 * 0.45**2)
    assert -moment == pytest.approx(lean / (1 / math.sqrt(bending * shear) + local), rel=1e-9)
    own = straightened(strip, PULL)
    assert own.swing == pytest.approx(
        1 / math.sqrt(bending * (PULL * shear / (PULL + shear))), rel=1e-12
    )
