"""Scenes of the tests: good ones by seed, bad ones by what is wrong with them; and the truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from photographs.rendering import Laid, Scene, draw, framed, photograph
from splicewright.photographs.measuring import READING, Bars, Measured, measure_pictures
from splicewright.photographs.picture import read_picture

SMALL = (1920, 1440)
"""Size of the photographs in the quick run [px]."""


def bars_of(scene: Scene, seed: int) -> Bars:
    """The bars as a crew reads them: anywhere within the reading."""
    rng = np.random.default_rng(seed + 10**6)
    along, across = 0.2 * scene.printed[0], 0.16 * scene.printed[1]
    return Bars(along + rng.uniform(-READING, READING), across + rng.uniform(-READING, READING))


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
    # Folds that leave corners alone show in the range, not in the corners.
    "crumpled": (
        "",
        lambda s: replace(s, sheets=(replace(s.sheets[0], crumple=2.5e-3), *s.sheets[1:])),
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


def bad(name: str, seed: int, size: tuple[int, int] = (1440, 1080)) -> Scene:
    """A good scene made bad."""
    return BAD[name][1](draw(seed, size=size, width=0.9, shadows=()))


PITCH, PLATE, LONG, HIGH, COUNT = 0.043, 0.040, 0.055, 0.005, 20
"""A row of invented plates: pitch, width, length, height [m]; how many."""


def plated(seed: int, missing: int) -> tuple[Scene, np.ndarray, np.ndarray]:
    """A belt end with a row of plates, one of them not there: scene, places, turns."""
    rng = np.random.default_rng(seed)
    steps = (COUNT - 1) / 2 - np.arange(COUNT)
    places = steps * PITCH + 0.003 + rng.normal(0, 6e-4, COUNT)
    turns = rng.normal(0, 0.012, COUNT)
    plates = tuple((-0.02, places[i], turns[i], PLATE) for i in range(COUNT) if i != missing - 1)
    scene = draw(seed, size=SMALL, width=0.95, shadows=(), chalk=-5.0)
    scene = replace(scene, plates=plates, plate_length=LONG, plate_height=HIGH)
    return scene, places, turns


def from_aside(scene: Scene, aside: float) -> Scene:
    """The same belt and sheets from another place, with another grain of noise."""
    rng = np.random.default_rng(scene.seed + 99)
    return framed(replace(scene, roll=-scene.roll), rng, aside)
