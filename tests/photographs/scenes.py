"""Scenes of the tests: good ones by seed, bad ones by what is wrong with them; and the truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from photographs.rendering import Laid, Scene, View, draw, framed, photograph
from splicewright.photographs.measuring import READING, Bars, Measured, measure_pictures
from splicewright.photographs.picture import read_picture

SMALL, LARGE = (1920, 1440), (2560, 1920)
"""Sizes of the photographs: of the many scenes, and as a larger one is measured [px]."""


def bars_of(scene: Scene, seed: int) -> Bars:
    """The bars as a crew reads them: anywhere within the reading."""
    rng = np.random.default_rng(seed + 10**6)
    along, across = 0.2 * scene.printed[0], 0.16 * scene.printed[1]
    return Bars(along + rng.uniform(-READING, READING), across + rng.uniform(-READING, READING))


def told_thickness(scene: Scene, seed: int) -> float:
    """The belt's thickness as a crew measured it: worn rubber, another place, a calliper askew."""
    return scene.thickness + float(np.random.default_rng(seed + 2 * 10**6).normal(0, 7e-4))


def truth(scene: Scene) -> dict[str, float]:
    """What a perfect tape would say of a scene [m]; straight from how the scene was drawn."""
    square, skew = scene.out_of_square, scene.chalk_skew
    return {
        "width": scene.width,
        "out_of_square": square,
        "curve_depth": scene.depth,
        "chalk_left": square / 2 - scene.chalk - skew / 2,
        "chalk_right": -square / 2 - scene.chalk + skew / 2,
        "out_of_square_chalk": square - skew,
    }


def measured(scene: Scene, seed: int = 0) -> Measured:
    """One photograph of a scene, measured."""
    return measure_pictures([read_picture(photograph(scene), "one.jpg")], bars_of(scene, seed))


def _sheets(change: Callable[[Laid], Laid]) -> Callable[[Scene], Scene]:
    return lambda scene: replace(scene, sheets=tuple(change(s) for s in scene.sheets))


def _twice(scene: Scene) -> Scene:
    first = scene.sheets[0]
    return replace(scene, sheets=(*scene.sheets, replace(first, y=0.0, x=first.x - 0.2)))


def _swapped(scene: Scene) -> Scene:
    number = {1: 2, 2: 1, 3: 3, 4: 4}
    return _sheets(lambda s: replace(s, number=number[s.number]))(scene)


def _from(eye: tuple[float, float, float]) -> Callable[[Scene], Scene]:
    return lambda scene: replace(scene, eye=eye)


BAD: dict[str, tuple[str, Callable[[Scene], Scene]]] = {
    "one sheet only": ("needed", lambda s: replace(s, sheets=s.sheets[:1])),
    "no sheet": ("needed", lambda s: replace(s, sheets=())),
    "two sheets of one number": ("twice", _twice),
    "sheets changed over": ("other's side", _swapped),
    "belt bowed": (
        "",
        lambda s: replace(s, bow_across=s.width**2 * 0.06, bow_along=0.0, twist=0.0),
    ),
    "out of focus": ("", lambda s: replace(s, blur=4.0)),
    "shaken": ("", lambda s: replace(s, motion=(9.0, 5.0))),
    "glare": ("", lambda s: replace(s, glare=(s.sheets[0].x, s.sheets[0].y, 4.0))),
    "dark ground": ("could not be found", lambda s: replace(s, ground=1.05 * s.belt)),
    "a shadow's edge along the cut": (
        "could be the cut",
        # Shade up to 10 cm behind the cut, sun ahead of it: both lines are dark to light.
        lambda s: replace(s, shadows=((-0.055, 0.0, -0.0007, 0.85),), chalk=-0.12),
    ),
    "from beyond the cut": (
        "beyond the cut",
        lambda s: replace(s, eye=(0.35, s.eye[1], s.eye[2]), target=(-0.3, 0.0, 0.0)),
    ),
}
"""Name -> a word of the refusal (any where several may come first), and what is done to a scene."""


def crumpled(seed: int) -> Scene:
    """A good scene whose first sheet is folded by 2.5 mm."""
    scene = draw(seed, size=(1440, 1080), width=0.9, shadows=())
    return replace(scene, sheets=(replace(scene.sheets[0], crumple=2.5e-3), *scene.sheets[1:]))


def bad(name: str, seed: int, size: tuple[int, int] = (1440, 1080)) -> Scene:
    """A good scene made bad."""
    return BAD[name][1](draw(seed, size=size, width=0.9, shadows=()))


PITCH, PLATE, LONG, HIGH, COUNT = 0.043, 0.040, 0.055, 0.005, 20
"""A row of invented plates: pitch, width, length, height [m]; how many."""


def plated(seed: int, missing: int) -> tuple[Scene, np.ndarray, np.ndarray]:
    """A belt end with a row of plates, one of them not there: scene, places, turns.

    They stand half a millimetre (standard deviation) higher or lower than their range says.
    """
    rng = np.random.default_rng(seed)
    steps = (COUNT - 1) / 2 - np.arange(COUNT)
    places = steps * PITCH + 0.003 + rng.normal(0, 6e-4, COUNT)
    turns = rng.normal(0, 0.012, COUNT)
    plates = tuple((-0.02, places[i], turns[i], PLATE) for i in range(COUNT) if i != missing - 1)
    scene = draw(seed, size=SMALL, width=0.95, shadows=(), chalk=-5.0)
    high = HIGH + rng.normal(0, 5e-4)
    scene = replace(scene, plates=plates, plate_length=LONG, plate_height=high)
    return scene, places, turns


def notched(seed: int) -> tuple[Scene, tuple[float, float], tuple[int, float, float, float]]:
    """A cut end with notches (width, length) and one tear (side, place, deep, long) in an edge."""
    rng = np.random.default_rng(seed)
    wide = float(rng.uniform(0.008, 0.025))
    tear = (
        int(rng.choice([-1, 1])), -0.75, float(rng.uniform(0.008, 0.03)),
        float(rng.uniform(0.008, 0.1)),
    )  # fmt: skip
    scene = draw(seed, size=LARGE, width=0.998, shadows=())
    return replace(scene, notches=((wide, 3 * wide),) * 2, nicks=(tear,)), (wide, 3 * wide), tear


def frayed(seed: int) -> tuple[Scene, tuple[int, float, float, float]]:
    """A belt that goes on ahead, with a tear (side, place, deep, long) in an edge by the sheets."""
    rng = np.random.default_rng(seed)
    tear = (
        int(rng.choice([-1, 1])), float(rng.uniform(-0.68, -0.2)),
        float(rng.uniform(0.005, 0.03)), float(rng.uniform(0.01, 0.15)),
    )  # fmt: skip
    scene = draw(seed, size=SMALL, shadows=(), chalk=-5.0)
    return replace(scene, uncut=True, depth=0.0, nicks=(tear,)), tear


HOLE, HOLE_ROWS = 9e-3, ((0.012, (-0.009, 0.009)), (0.027, (0.0,)))
"""Diameter, and rows: from the cut, places across from a plate's middle [m]; invented."""


def punched(seed: int) -> tuple[Scene, list[tuple[int, int, float, float]], np.ndarray, int]:
    """A punched end: scene, planned holes (plate, row, behind, across), where each lies from its
    place (behind, left), and which one is not there."""
    rng = np.random.default_rng(seed)
    scene = draw(seed, size=LARGE, width=0.95, shadows=(), chalk=-0.12)
    lean, shift = rng.normal(0, 2e-3), rng.normal(0, 1.5e-3, 2)
    planned, off, holes = [], [], []
    smooth = replace(scene, wobble=0.0)
    for plate in range(COUNT):
        for row, (behind, across) in enumerate(HOLE_ROWS, 1):
            for aside in across:
                y = ((COUNT - 1) / 2 - plate) * PITCH - aside
                planned.append((plate + 1, row, behind, y))
                moved = np.array([shift[0] + lean * y / scene.width, shift[1]])
                moved += rng.normal(0, 3e-4, 2)
                off.append(moved)
                at = y + moved[1]
                holes.append((float(smooth.cut(np.array(at))) - behind - moved[0], at))
    missing = int(rng.integers(len(holes)))
    holes.pop(missing)
    return replace(scene, holes=tuple(holes), hole=HOLE), planned, np.array(off), missing


def facing(seed: int) -> tuple[Scene, dict[str, float]]:
    """Two ends with a gap between them, sheets on both, and what a tape would say."""
    rng = np.random.default_rng(seed)
    scene = draw(seed, size=LARGE, shadows=(), chalk=-5.0)
    left, right = rng.uniform(0.015, 0.05) + rng.normal(0, 2e-3, 2)
    aside, beyond = rng.normal(0, 4e-3), 0.26 + (left + right) / 2
    sheets = tuple(
        replace(s, x=(-0.22 if s.number < 3 else beyond) + rng.normal(0, 0.01))
        for s in scene.sheets
    )
    back, half = rng.uniform(0.1, 0.6), scene.width / 2 + 0.06
    corners = np.array([[x, y, 0] for x in (-0.42, beyond + 0.2) for y in (half, -half)])
    tried = replace(scene, sheets=sheets, gap=(left, right), aside=aside)
    for high in np.arange(1.0, 3.0, 0.05):
        tried = replace(tried, eye=(-back * high, scene.eye[1] / 4, high), target=(0.02, 0.0, 0.0))
        seen = View(tried)
        u, v, w = ((corners - seen.eye) @ seen.axes.T).T
        if max(np.abs(u / w).max(), np.abs(v / w).max() / 0.75) * scene.focal < 0.97:
            break
    known = {"gap_left": left, "gap_right": right, "gap_middle": (left + right) / 2}
    return tried, {**known, "edge_left": aside, "edge_right": aside}


def pinned(seed: int) -> tuple[Scene, float]:
    """Plates with a pin that stands out of the left edge, by how much; not out of the right one.

    The pin lies two millimetres (standard deviation) above or below the middle of the belt.
    """
    rng = np.random.default_rng(seed)
    scene, places, _ = plated(seed, 7)
    out = float(rng.uniform(0.012, 0.06))
    rod = (places[-1] - PLATE / 2 + 0.01, scene.width / 2 + out, -0.02 + LONG / 2)
    high = -scene.thickness / 2 + rng.normal(0, 2e-3)
    return replace(scene, size=LARGE, pin=(*rod, high, 0.007)), out


def from_aside(scene: Scene, aside: float) -> Scene:
    """The same belt and sheets from another place, with another grain of noise."""
    rng = np.random.default_rng(scene.seed + 99)
    return framed(replace(scene, roll=-scene.roll), rng, aside)
