"""Camera, surface and adjustment against OpenCV, closed forms, and repeated draws of noise."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from depth import sized
from splicewright.photographs.adjustment import Printed, Sighting, adjust
from splicewright.photographs.arrays import Array
from splicewright.photographs.camera import Camera, rotation
from splicewright.photographs.detection import SheetFound
from splicewright.photographs.scale_sheet import corner_places
from splicewright.photographs.surface import SHAPE, Surface

LOOKING = np.array([[0.0, -1.0, 0.0], [-0.6, 0.0, -0.8], [0.8, 0.0, -0.6]])
"""A camera that looks forward and down: its right is the belt's right."""
SIZE = (2560, 1920)


def camera(k1: float = 0.0, k2: float = 0.0) -> Camera:
    eye = np.array([-0.95, 0.03, 1.1])
    vector = cv2.Rodrigues(LOOKING)[0].ravel()
    inner = np.array([np.log(1.45 * 1280), 0.004, -0.003, k1, k2])
    return Camera(inner, np.concatenate([vector, -LOOKING @ eye]), SIZE)


def test_projection_is_the_librarys() -> None:
    eye = camera(0.05, -0.03)
    points = np.random.default_rng(0).uniform([-0.4, -0.5, -0.02], [0.5, 0.5, 0.02], (50, 3))
    x, y = eye.axis
    matrix = np.array([[eye.focal, 0, x], [0, eye.focal, y], [0, 0, 1]])
    bend = np.array([0.05, -0.03, 0, 0])
    theirs, _ = cv2.projectPoints(points, eye.pose[:3], eye.pose[3:], matrix, bend)
    assert np.allclose(eye.project(points), theirs.reshape(-1, 2), atol=1e-6)
    assert np.allclose(rotation(eye.pose[:3]), LOOKING, atol=1e-9)
    assert np.allclose(eye.place, [-0.95, 0.03, 1.1])


def test_a_ray_comes_back_to_where_it_was_seen() -> None:
    shape = np.zeros(SHAPE)
    shape[:3] = 0.05, 0.08, 0.02
    shape[3:] = np.random.default_rng(1).normal(0, 1e-3, SHAPE - 3)
    surface, eye = Surface(shape, height=0.005), camera(0.04, -0.02)
    places = np.random.default_rng(2).uniform([-0.4, -0.5], [0.5, 0.5], (40, 2))
    seen = eye.project(surface.points(places))
    assert np.allclose(surface.meet(eye.place, eye.rays(seen)), places, atol=2e-6)


def test_slopes_are_those_of_small_steps() -> None:
    """Against central differences of the functions themselves, at unequal numbers."""
    rng = np.random.default_rng(3)
    shape = np.concatenate([[0.05, 0.08, 0.02], rng.normal(0, 1e-3, SHAPE - 3)])
    eye, surface = camera(0.04, -0.02), Surface(shape)
    places = rng.uniform([-0.4, -0.5], [0.5, 0.5], (9, 2))
    points = surface.points(places)
    by_place, by_shape = surface.slopes(places)
    by_point, own = eye.slopes(points)
    step = 1e-6

    def turned(n: int, way: int) -> Array:
        numbers = np.concatenate([eye.inner, eye.pose])
        numbers[n] += way * step
        return Camera(numbers[:5], numbers[5:], SIZE).project(points)

    def one(n: int, size: int) -> Array:
        return np.asarray(step * np.eye(size)[n])

    for n in range(2):
        told = surface.points(places + one(n, 2)) - surface.points(places - one(n, 2))
        assert np.allclose(by_place[:, :, n], told / 2 / step, atol=1e-7)
    for n in range(SHAPE):
        told = Surface(shape + one(n, SHAPE)).points(places)
        told = told - Surface(shape - one(n, SHAPE)).points(places)
        assert np.allclose(by_shape[:, :, n], told / 2 / step, atol=1e-7)
    for n in range(3):
        told = eye.project(points + one(n, 3)) - eye.project(points - one(n, 3))
        assert np.allclose(by_point[:, :, n], told / 2 / step, rtol=1e-5, atol=1e-3)
    for n in range(11):
        told = (turned(n, 1) - turned(n, -1)) / 2 / step
        assert np.allclose(own[:, :, n], told, rtol=1e-5, atol=1e-3), n


def test_a_bowed_belt_keeps_its_length() -> None:
    # Closed form: an arc of length s and curvature c spans sin(c s / 2) / (c / 2).
    bow, half = 0.16, 0.5
    shape = np.zeros(SHAPE)
    shape[1] = bow
    ends = Surface(shape).points(np.array([[0.0, -half], [0.0, half]]))
    assert ends[1, 1] - ends[0, 1] == pytest.approx(2 * np.sin(bow * half) / bow, abs=2e-6)


LAID = {1: (0.15, 0.3, 0.03), 2: (0.14, -0.31, -0.02), 3: (-0.2, 0.3, 0.0), 4: (-0.2, -0.3, 0.05)}


def found(eye: Camera, noise: float, rng: np.random.Generator) -> tuple[SheetFound, ...]:
    """Four sheets that lie on a plane, seen with noise; places by hand, not by the solver."""
    drawn = np.array(corner_places())
    sheets = []
    for number, (x, y, turn) in LAID.items():
        cos, sin = np.cos(turn), np.sin(turn)
        laid = drawn @ np.array([[cos, sin], [-sin, cos]]) + [x, y]
        pixels = eye.project(np.column_stack([laid, np.zeros(len(laid))]))
        pixels = pixels + rng.normal(0, noise, pixels.shape)
        corners: Array = np.arange(float(len(drawn)))
        sheets.append(SheetFound(number, corners, pixels, 60.0, 0.8, 0.9))
    return tuple(sheets)


TRUE = Printed(1.0, 1.0, 1e-7, 1e-7)


def test_without_noise_the_plane_comes_back() -> None:
    eye = camera(0.03, -0.02)
    made = adjust([Sighting(found(eye, 0.0, np.random.default_rng(0)), SIZE, None)], TRUE)
    assert made is not None
    poses = made.sheet_poses
    gap = np.linalg.norm(poses[0, :2] - poses[1, :2])
    # What is known beforehand of lenses (none bent) pulls a little, as if corners were noisy: by
    # less than one standard deviation of what is stated of this distance.
    along = (poses[0, :2] - poses[1, :2]) / gap
    own = np.zeros(len(made.covariance))
    first = 2 + SHAPE
    own[first : first + 2], own[first + 3 : first + 5] = along, -along
    assert gap == pytest.approx(
        np.hypot(0.01, 0.61), abs=float(np.sqrt(own @ made.covariance @ own))
    )
    # Closed form of the plane case: a homography from the corners (no lens, no bow) puts the
    # corner of another sheet where the adjustment does.
    flat = adjust([Sighting(found(camera(), 0.0, np.random.default_rng(0)), SIZE, None)], TRUE)
    assert flat is not None
    assert np.abs(flat.surface().points(np.array([[0.4, 0.3], [0.4, -0.3]]))[:, 2]).max() < 1e-4
    assert flat.camera(0).focal == pytest.approx(1.45 * 1280, rel=2e-3)


def test_the_stated_spread_is_the_spread() -> None:
    """Draws of noise from the solver's own model: the normalised distance of two sheets."""
    eye, off = camera(), []
    for seed in range(sized(12, deep=400)):
        rng = np.random.default_rng(seed)
        made = adjust([Sighting(found(eye, 0.12, rng), SIZE, 1.45)], TRUE)
        assert made is not None
        a, b = made.sheet_poses[0, :2], made.sheet_poses[1, :2]
        at = 2 + SHAPE
        way = (a - b) / np.linalg.norm(a - b)
        slope = np.zeros(len(made.numbers))
        slope[at : at + 2], slope[at + 3 : at + 5] = way, -way
        spread = np.sqrt(slope @ made.covariance @ slope)
        off.append((np.linalg.norm(a - b) - np.hypot(0.01, 0.61)) / spread)
    # Chi-square with 12 degrees of freedom at 99.9 %: 32.9 (tables).
    # The flat belt drawn here is one of the many that the surface's spread allows, so it may be
    # nearer than stated, never further.
    share = float(np.sum(np.square(off))) / len(off)
    assert 0.15 < share < 32.9 / 12
