"""Photographs of a belt end made by a model that shares nothing with the one that measures them.

Another lens (the division law, with a third term, in place of Brown's polynomial), another surface
(cosines and a bump in place of a polynomial), another board (drawn by OpenCV in place of our own
sheet), and what a camera adds: uneven light, shadows, dust, blur, noise, a tone curve, sharpening
and JPEG. Places on the belt are said along its surface, as a tape would; forward is to the cut.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline
from scipy.spatial.transform import Rotation

Array = NDArray[Any]
PAPER = (0.210, 0.297)
SQUARE = 0.042
STEP = 20
"""Pixels between the rays that are traced; between them the map is smooth."""


@dataclass(frozen=True)
class Laid:
    """A sheet on the belt: its number, where its board's middle lies (forward, left) and turn."""

    number: int
    x: float
    y: float
    turn: float
    crumple: float = 0.0
    torn: float = 0.0


@dataclass(frozen=True)
class Scene:
    """All of one photograph; lengths in metres, angles in radians.

    notches : width at the cut and length along the edge of the left and right corner's
    nicks : (side 1 left or -1 right, place forward, deep, long): torn out of the edge to a point
    holes : middles, punched through, `hole` wide
    gap : at the left and right edge to a second belt end; `aside` to the left of the first
    pin : across from and to, forward, height of its middle, thickness: a rod of steel
    uncut : the belt goes on ahead
    """

    width: float = 1.0
    out_of_square: float = 0.0
    depth: float = 0.0
    chalk: float = -0.08
    chalk_skew: float = 0.0
    wobble: float = 1e-4
    side_wobble: float = 0.0
    thickness: float = 0.012
    bow_across: float = 0.0
    bow_along: float = 0.0
    twist: float = 0.0
    bump: float = 0.0
    sheets: tuple[Laid, ...] = ()
    printed: tuple[float, float] = (1.0, 1.0)
    eye: tuple[float, float, float] = (-1.2, 0.0, 1.6)
    target: tuple[float, float, float] = (-0.3, 0.0, 0.0)
    roll: float = 0.0
    focal: float = 1.45
    bend: tuple[float, float, float] = (0.0, 0.0, 0.0)
    axis: tuple[float, float] = (0.0, 0.0)
    size: tuple[int, int] = (2560, 1920)
    belt: float = 0.06
    ground: float = 0.35
    shadows: tuple[tuple[float, float, float, float], ...] = ()
    slope_of_light: tuple[float, float] = (0.0, 0.0)
    glare: tuple[float, float, float] = (0.0, 0.0, 0.0)
    dust: int = 0
    blur: float = 0.8
    motion: tuple[float, float] = (0.0, 0.0)
    noise: float = 0.006
    curve: float = 0.1
    sharpen: float = 0.3
    quality: int = 88
    plates: tuple[tuple[float, float, float, float], ...] = ()
    plate_length: float = 0.045
    plate_height: float = 0.005
    raised: tuple[tuple[int, float], ...] = ()
    notches: tuple[tuple[float, float], tuple[float, float]] = ((0.0, 1.0), (0.0, 1.0))
    nicks: tuple[tuple[int, float, float, float], ...] = ()
    holes: tuple[tuple[float, float], ...] = ()
    hole: float = 0.009
    gap: tuple[float, float] | None = None
    aside: float = 0.0
    pin: tuple[float, float, float, float, float] | None = None
    uncut: bool = False
    seed: int = 0
    extras: dict[str, float] = field(default_factory=dict)

    def cut(self, y: Array) -> Array:
        """Where the cut is (forward) at places across."""
        t = 2 * y / self.width
        rng = np.random.default_rng(self.seed + 7)
        wave = sum(
            rng.normal() * np.cos(n * 2.1 * t + rng.uniform(0, 6.3)) for n in range(3, 9)
        ) / np.sqrt(3)
        return np.asarray(self.out_of_square * t / 2 - self.depth * (1 - t**2) + self.wobble * wave)

    def rise(self, x: Array, y: Array) -> Array:
        """Height of the cover over a plane at places of space."""
        half = self.width / 2
        across = self.bow_across * (np.cos(1.3 * y / half) - 1) / (1 - np.cos(1.3))
        along = self.bow_along * (np.cos(2.2 * (x + 0.35)) - 1) / (1 - np.cos(1.1))
        twist = self.twist * np.sin(2 * (x + 0.3)) * np.sin(1.2 * y / half)
        flat = across + along + twist
        rng = np.random.default_rng(self.seed + 11)
        for _ in range(3):
            at, beside, wide = rng.uniform([-0.7, -half, 0.2], [0.1, half, 0.4])
            high = rng.normal()
            flat = flat + self.bump * high * np.exp(
                -(((x - at) / wide) ** 2) - ((y - beside) / wide) ** 2
            )
        return np.asarray(flat)


class View:
    """A scene's camera and what it sees of the belt."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        eye, target = np.array(scene.eye), np.array(scene.target)
        ahead = (target - eye) / np.linalg.norm(target - eye)
        right = np.cross(ahead, [0, 0, 1.0])
        right /= np.linalg.norm(right)
        down = np.cross(ahead, right)
        turn = Rotation.from_rotvec(scene.roll * ahead)
        self.axes = np.stack([turn.apply(right), turn.apply(down), ahead])
        self.eye = eye
        grid = np.linspace(-3, 3, 6001)
        at = np.zeros_like(grid)
        self._tape_x = _tape(grid, scene.rise(grid, at))
        self._tape_y = _tape(grid, scene.rise(at - 0.3, grid))

    def rays(self, px: Array, py: Array) -> tuple[Array, Array, Array]:
        """Directions of pixels, by the division law: radius undistorted = r / (1 + a r² + ...)."""
        wide, high = self.scene.size
        half = max(wide, high) / 2
        u = ((px - (wide - 1) / 2) / half - self.scene.axis[0]) / self.scene.focal
        v = ((py - (high - 1) / 2) / half - self.scene.axis[1]) / self.scene.focal
        r = u**2 + v**2
        a, b, c = self.scene.bend
        over = 1 + a * r + b * r**2 + c * r**3
        u, v = u / over, v / over
        d = u[..., None] * self.axes[0] + v[..., None] * self.axes[1] + self.axes[2]
        return d[..., 0], d[..., 1], d[..., 2]

    def meet(self, px: Array, py: Array, height: float) -> tuple[Array, Array, Array]:
        """Places along the belt's surface that pixels show, and how height moves them forward."""
        dx, dy, dz = self.rays(px, py)
        dz = np.minimum(dz, -0.02)
        z = np.full(px.shape, height)
        for _ in range(12):
            far = (z - self.eye[2]) / dz
            x, y = self.eye[0] + far * dx, self.eye[1] + far * dy
            reach = 1.5
            z = height + self.scene.rise(np.clip(x, -reach, reach), np.clip(y, -reach, reach))
        return self._tape_x(x), self._tape_y(y), np.asarray(-dx / dz)


def _tape(grid: Array, rise: Array) -> Callable[[Array], Array]:
    """Length along a surface of this rise, from 0, at places of space."""
    slope = np.where(np.abs(grid) < 1.5, np.gradient(rise, grid), 0)
    length = np.cumsum(np.sqrt(1 + slope**2)) * (grid[1] - grid[0])
    length -= np.interp(0, grid, length)
    return lambda places: np.asarray(np.interp(places, grid, length, left=-9, right=9))


def photograph(scene: Scene) -> bytes:
    """The scene as a JPEG."""
    rng = np.random.default_rng(scene.seed)
    view = View(scene)
    wide, high = scene.size
    gx = np.arange(-STEP, wide + 2 * STEP, STEP, dtype=float)
    gy = np.arange(-STEP, high + 2 * STEP, STEP, dtype=float)
    px, py = np.meshgrid(gx, gy)

    def smooth(height: float) -> list[RectBivariateSpline]:
        return [RectBivariateSpline(gy, gx, m, kx=3, ky=3) for m in view.meet(px, py, height)]

    top = smooth(0.0)
    rows, cols = np.arange(high, dtype=float), np.arange(wide, dtype=float)
    x, y = (m(rows, cols).astype(np.float32) for m in top[:2])
    pixel = np.abs(np.gradient(x, axis=0)) + 1e-6
    side = np.abs(np.gradient(y, axis=1)) + 1e-6
    inside = _inside(scene, x, y, pixel, side)
    picture = scene.ground * _grain(rng, (high, wide), 0.05)
    if view.eye[0] > -0.1 or abs(view.eye[1]) > scene.width / 2 - 0.05:
        # From there the belt's own thickness shows.
        under = smooth(-scene.thickness)
        bx, by = (m(rows, cols).astype(np.float32) for m in under[:2])
        face = _inside(scene, bx, by, pixel, side)
        picture = picture * (1 - face) + 0.5 * scene.belt * face
    belt = scene.belt * _grain(rng, (high, wide), 0.12)
    line = np.abs(x - scene.chalk - scene.chalk_skew * y / scene.width)
    chalk = np.clip((0.002 - line) / pixel + 0.5, 0, 1) * (np.abs(y) < 0.49 * scene.width)
    chalk *= np.clip(_grain(rng, (high, wide), 0.5), 0, 1.2)
    belt = belt * (1 - 0.8 * np.clip(chalk, 0, 1)) + 0.45 * 0.8 * np.clip(chalk, 0, 1)
    picture = picture * (1 - inside) + belt * inside
    if scene.gap is not None:
        _add_far_end(scene, smooth, rows, cols, x, y, pixel, side, belt, picture)
    if scene.holes:
        _punch(scene, smooth, rows, cols, x, y, np.minimum(pixel, side), picture)
    if scene.pin is not None:
        _add_pin(scene, smooth, rows, cols, pixel, side, picture)
    for laid in scene.sheets:
        _lay(scene, top, x, y, laid, picture)
    _add_plates(scene, smooth, rows, cols, pixel, side, picture)
    for _ in range(scene.dust):
        _speck(rng, x, y, scene, picture)
    picture *= _light(scene, x, y)
    return _expose(scene, rng, picture)


def _inside(scene: Scene, x: Array, y: Array, pixel: Array, side: Array) -> Array:
    # A table of the cut at every millimetre is looked up as a picture of one line.
    grid = np.linspace(-scene.width, scene.width, 2001)
    table = scene.cut(grid).astype(np.float32)[None, :]
    at = ((y + scene.width) * (1000 / scene.width)).astype(np.float32)
    edge = cv2.remap(table, at, np.zeros_like(at), cv2.INTER_LINEAR, None, cv2.BORDER_REPLICATE)
    ahead = np.clip((edge - x) / pixel + 0.5, 0, 1)
    if scene.uncut:
        ahead = np.ones_like(ahead)
    half: Array = np.asarray(
        scene.width / 2 + scene.side_wobble * np.sin(9 * x + 2 * np.sign(y) + scene.seed)
    )
    for way, (wide, long) in zip((1, -1), scene.notches, strict=True):
        if wide:
            taper = wide * np.clip(1 - (edge - x) / long, 0, 1)
            half = half - np.where(way * y > 0, taper, 0)
    for side_torn, place, deep, far in scene.nicks:
        torn = deep * np.clip(1 - np.abs(x - place) / (far / 2), 0, 1)
        half = half - np.where(side_torn * y > 0, torn, 0)
    beside = np.clip((half - np.abs(y)) / side + 0.5, 0, 1)
    return np.asarray(ahead * beside, dtype=np.float32)


def _grain(rng: np.random.Generator, shape: tuple[int, int], size: float) -> Array:
    coarse = rng.normal(0, 1, (shape[0] // 24 + 2, shape[1] // 24 + 2)).astype(np.float32)
    fine = rng.standard_normal((shape[0] // 2 + 1, shape[1] // 2 + 1), dtype=np.float32)
    one = cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    two = cv2.resize(fine, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)
    return np.asarray(np.maximum(1 + size * (0.6 * one + 0.6 * two), 0.2))


_PRINTS: dict[int, Array] = {}


def sheet_print(number: int) -> Array:
    """The sheet's paper at 4 px/mm, its board in the middle, drawn by OpenCV."""
    if number not in _PRINTS:
        marks = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100)
        ids = np.arange((number - 1) * 10, number * 10)
        board: Any = cv2.aruco.CharucoBoard((4, 5), SQUARE, 0.75 * SQUARE, marks, ids)
        drawn = board.generateImage((672, 840), None, 0, 1)
        paper = np.full((1188, 840), 255, dtype=np.uint8)
        paper[174 : 174 + 840, 84 : 84 + 672] = drawn
        _PRINTS[number] = np.asarray(paper, dtype=np.float32) / 255
    return _PRINTS[number]


def _lay(
    scene: Scene, top: list[RectBivariateSpline], x: Array, y: Array, laid: Laid, picture: Array
) -> None:
    wide, high = scene.size
    cos, sin = np.float32(np.cos(laid.turn)), np.float32(np.sin(laid.turn))
    every = 8
    along, across = x[::every, ::every] - laid.x, y[::every, ::every] - laid.y
    near = (np.abs(cos * along + sin * across) < 0.17) & (
        np.abs(-sin * along + cos * across) < 0.125
    )
    inside = np.argwhere(near)
    if not len(inside):
        return
    y0, x0 = np.maximum(every * inside.min(axis=0) - every, 0)
    y1, x1 = np.minimum(every * inside.max(axis=0) + every, [high, wide])
    a, b = x[y0:y1, x0:x1] - np.float32(laid.x), y[y0:y1, x0:x1] - np.float32(laid.y)
    forward, left = cos * a + sin * b, -sin * a + cos * b
    if laid.crumple:
        lean = top[2](np.arange(y0, y1, dtype=float), np.arange(x0, x1, dtype=float))
        lift = laid.crumple * (
            np.abs(np.sin(9 * forward + 5 * left)) + np.abs(np.sin(14 * left - 6 * forward))
        )
        forward = forward - lift * lean.astype(np.float32)
    many = 3
    # From pixel to pixel the map is straight; beyond the last one it is not looked at.
    size = (many * (x1 - x0), many * (y1 - y0))
    u, v = (
        cv2.resize(part.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
        for part in (
            (0.105 - left / scene.printed[1]) * 4000 - 0.5,
            (0.210 / 2 + 0.0435 - forward / scene.printed[0]) * 4000 - 0.5,
        )
    )
    ink = cv2.remap(
        sheet_print(laid.number), u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    on = ((u > 0) & (u < 840) & (v > 0) & (v < 1188)).astype(np.float32)
    if laid.torn:
        on *= (u + v > laid.torn * 1000).astype(np.float32)
    ink = 0.03 + 0.72 * ink

    def shrink(fine: Array) -> Array:
        return np.asarray(cv2.resize(fine, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA))

    cover, colour = shrink(on), shrink(on * ink)
    picture[y0:y1, x0:x1] = picture[y0:y1, x0:x1] * (1 - cover) + colour


def _mix(picture: Array, cover: Array, light: Array | float) -> None:
    picture *= 1 - cover
    picture += cover * light


def _add_far_end(
    scene: Scene,
    smooth: Any,
    rows: Array,
    cols: Array,
    x: Array,
    y: Array,
    pixel: Array,
    side: Array,
    belt: Array,
    picture: Array,
) -> None:
    """A second end beyond the gap: its face, as deep as the belt is thick, then its cover."""
    assert scene.gap is not None
    left, right = scene.gap

    def cover(along: Array, across: Array) -> Array:
        share = 0.5 + across / scene.width
        begins = scene.cut(across) + share * left + (1 - share) * right
        beyond = np.clip((along - begins) / pixel + 0.5, 0, 1)
        within = np.abs(across - scene.aside)
        return np.asarray(beyond * np.clip((scene.width / 2 - within) / side + 0.5, 0, 1))

    hidden = np.clip((scene.cut(y) - x) / pixel + 0.5, 0, 1) * (np.abs(y) < scene.width / 2)
    for high in np.linspace(-scene.thickness, 0, 7)[:-1]:
        level = [m(rows, cols).astype(np.float32) for m in smooth(float(high))[:2]]
        _mix(picture, cover(*level) * (1 - hidden), 0.5 * scene.belt)
    _mix(picture, cover(x, y), belt)


def _punch(
    scene: Scene, smooth: Any, rows: Array, cols: Array, x: Array, y: Array, fine: Array,
    picture: Array,
) -> None:  # fmt: skip
    """Holes through the belt: floor is seen where a ray passes both rims, else the dark wall."""
    under = [m(rows, cols).astype(np.float32) for m in smooth(-scene.thickness)[:2]]
    for at, across in scene.holes:
        near = (np.abs(x - at) < 0.04) & (np.abs(y - across) < 0.04)
        found = np.argwhere(near)
        if not len(found):
            continue
        (y0, x0), (y1, x1) = found.min(axis=0), found.max(axis=0) + 1
        part = (slice(y0, y1), slice(x0, x1))

        def within(a: Array, b: Array, at: float = at, across: float = across) -> Array:
            return np.hypot(a - at, b - across)

        top = np.clip((scene.hole / 2 - within(x[part], y[part])) / fine[part] + 0.5, 0, 1)
        low = within(under[0][part], under[1][part])
        floor = np.clip((scene.hole / 2 - low) / fine[part] + 0.5, 0, 1)
        _mix(
            picture[part], top, 0.35 * scene.belt + floor * (0.6 * scene.ground - 0.35 * scene.belt)
        )


def _add_pin(
    scene: Scene, smooth: Any, rows: Array, cols: Array, pixel: Array, side: Array, picture: Array
) -> None:
    assert scene.pin is not None
    right, left, at, high, thick = scene.pin
    x, y = (m(rows, cols).astype(np.float32) for m in smooth(high)[:2])
    off = np.abs(x - at)
    on = np.clip((thick / 2 - off) / pixel + 0.5, 0, 1)
    on = on * np.clip((np.minimum(left - y, y - right)) / side + 0.5, 0, 1)
    # A round rod of steel: light along its top, dark at its sides.
    shade = 0.5 * np.sqrt(np.clip(1 - (2 * off / thick) ** 2, 0.05, 1))
    _mix(picture, on, shade)


def _add_plates(
    scene: Scene, smooth: Any, rows: Array, cols: Array, pixel: Array, side: Array, picture: Array
) -> None:
    """Plates (x, y, turn, width) of steel that stand above the cover."""
    if not scene.plates:
        return
    level = smooth(scene.plate_height)
    x, y = (m(rows[::8], cols[::8]) for m in level[:2])
    # Far more than eight pixels and what a plate is raised by: beyond, a plate changes nothing.
    reach = np.hypot(scene.plate_length, 0.1) + 0.1 + 16 * (pixel + side)[::8, ::8]
    raised = dict(scene.raised)
    for number, (at, across, turn, width) in enumerate(scene.plates):
        near = np.argwhere(np.hypot(x - at, y - across) < reach + width)
        if not len(near):
            continue
        (y0, x0), (y1, x1) = 8 * near.min(axis=0), 8 * near.max(axis=0) + 8
        part = (slice(y0, y1), slice(x0, x1))
        stands = smooth(scene.plate_height + raised[number]) if number in raised else level
        a, b = (
            m(rows[part[0]], cols[part[1]]).astype(np.float32) - place
            for m, place in zip(stands[:2], (at, across), strict=True)
        )
        u, v = np.cos(turn) * a + np.sin(turn) * b, -np.sin(turn) * a + np.cos(turn) * b
        on = np.clip((scene.plate_length / 2 - np.abs(u)) / pixel[part] + 0.5, 0, 1)
        on = on * np.clip((width / 2 - np.abs(v)) / side[part] + 0.5, 0, 1)
        bolt = np.clip((0.008 - np.hypot(u + 0.004, v)) / pixel[part] + 0.5, 0, 1)
        _mix(picture[part], on, 0.30 - 0.12 * bolt)


def _speck(rng: np.random.Generator, x: Array, y: Array, scene: Scene, picture: Array) -> None:
    at = rng.uniform([-0.8, -scene.width / 2], [0.05, scene.width / 2])
    size = rng.uniform(0.002, 0.012)
    flat, dense, light = rng.uniform(0.6, 1.6), rng.uniform(0.3, 0.9), rng.uniform(0.08, 0.25)
    coarse = np.hypot(x[::8, ::8] - at[0], (y[::8, ::8] - at[1]) * flat) < 1.2 * size + 0.03
    rows, cols = np.nonzero(coarse)
    if not len(rows):
        return
    part = (slice(8 * rows.min(), 8 * rows.max() + 8), slice(8 * cols.min(), 8 * cols.max() + 8))
    near = np.hypot(x[part] - at[0], (y[part] - at[1]) * flat)
    veil = np.clip(1.2 - near / size, 0, 1) * dense
    picture[part] *= 1 - veil
    picture[part] += veil * light


def _light(scene: Scene, x: Array, y: Array) -> Array:
    light = 1 + scene.slope_of_light[0] * (x + 0.3) + scene.slope_of_light[1] * y
    for at, slant, soft, dark in scene.shadows:
        # A shadow ahead of the line x = at + slant y, its edge `soft` wide.
        light = light * (1 - dark / (1 + np.exp(-np.clip((x - at - slant * y) / soft, -40, 40))))
    gx, gy, bright = scene.glare
    if bright:
        light = light + bright * np.exp(-((x - gx) ** 2 + (y - gy) ** 2) / 0.15**2) / 0.2
    return np.asarray(np.maximum(light, 0.05), dtype=np.float32)


def _expose(scene: Scene, rng: np.random.Generator, picture: Array) -> bytes:
    out = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), scene.blur)
    length = float(np.hypot(*scene.motion))
    if length > 0.5:
        steps = np.linspace(-0.5, 0.5, max(3, int(2 * length)))
        moved: Array = np.zeros_like(out)
        for s in steps:
            m = np.array([[1, 0, s * scene.motion[0]], [0, 1, s * scene.motion[1]]])
            moved += cv2.warpAffine(out, m, scene.size, borderMode=cv2.BORDER_REPLICATE)
        out = moved / len(steps)
    noise = rng.standard_normal(out.shape, dtype=np.float32)
    out = out + scene.noise * np.sqrt(np.maximum(out, 0) + 0.02) * noise
    out = np.clip(out * 1.15, 0, 1)
    tone = out ** (1 / 2.2)
    tone = tone + scene.curve * (tone - 0.5) * (1 - np.abs(2 * tone - 1))
    if scene.sharpen:
        tone = tone + scene.sharpen * (tone - cv2.GaussianBlur(tone, (0, 0), 1.2))
    grey = np.clip(tone * 255 + 0.5, 0, 255).astype(np.uint8)
    _, data = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, scene.quality])
    return data.tobytes()


def draw(seed: int, **given: Any) -> Scene:
    """A scene as a crew might take it, drawn by a seed; `given` replaces what is drawn."""
    rng = np.random.default_rng(seed)
    width = float(rng.uniform(0.65, 1.4))
    width = given.get("width", width)
    back = 0.30
    places = [(1, -back, 1), (2, -back, -1), (3, -back - 0.36, 1), (4, -back - 0.36, -1)]
    sheets = tuple(
        Laid(
            n,
            x + rng.normal(0, 0.015),
            side * (width / 2 - 0.17 + rng.normal(0, 0.012)),
            rng.normal(0, 0.04),
            crumple=abs(rng.normal(0, 1.2e-4)),
        )
        for n, x, side in places
    )
    scene = Scene(
        width=width,
        out_of_square=rng.normal(0, 4e-3),
        depth=max(0.0, rng.normal(2.5e-3, 2e-3)),
        chalk=-rng.uniform(0.05, 0.09),
        chalk_skew=rng.normal(0, 2e-3),
        bow_across=rng.normal(0, 5e-3),
        bow_along=rng.normal(0, 3e-3),
        twist=rng.normal(0, 3e-3),
        bump=8e-4,
        side_wobble=abs(rng.normal(0, 2e-4)),
        wobble=abs(rng.normal(0, 2e-4)),
        sheets=sheets,
        printed=tuple(1 + rng.normal(0, 4e-3) + rng.normal(0, 1e-3, 2)),
        roll=rng.normal(0, 0.06),
        focal=rng.uniform(1.35, 1.6),
        bend=(rng.normal(0, 0.03), rng.normal(0, 0.02), rng.normal(0, 0.01)),
        axis=tuple(rng.normal(0, 5e-3, 2)),
        belt=rng.uniform(0.03, 0.09),
        ground=rng.uniform(0.28, 0.6),
        slope_of_light=tuple(rng.normal(0, 0.25, 2)),
        dust=int(rng.integers(0, 12)),
        blur=rng.uniform(0.6, 1.1),
        motion=tuple(rng.normal(0, 0.8, 2)),
        noise=rng.uniform(0.003, 0.012),
        curve=rng.uniform(0, 0.25),
        sharpen=rng.uniform(0, 0.5),
        quality=int(rng.integers(80, 95)),
        thickness=rng.uniform(0.008, 0.018),
        seed=seed,
    )
    if rng.random() < 0.3:
        scene = replace(
            scene,
            shadows=(
                (rng.uniform(-0.9, -0.3), rng.uniform(0.3, 1.5), 0.01, rng.uniform(0.2, 0.5)),
            ),
        )
    scene = replace(scene, **{k: v for k, v in given.items() if k in Scene.__dataclass_fields__})
    return framed(scene, rng)


def framed(scene: Scene, rng: np.random.Generator, aside: float | None = None) -> Scene:
    """The same from where cut, edges and sheets fill the picture, with a margin around them."""
    half = scene.width / 2 + 0.06
    corners = np.array([[0.08, half], [0.08, -half], [-0.82, half], [-0.82, -half]])
    target = np.array([-0.35, 0.0, 0.0])
    steep = rng.uniform(0.85, 1.2)
    side = rng.normal(0, 0.08) if aside is None else aside
    for far in np.arange(1.1, 3.6, 0.05):
        eye = target + far * np.array([-np.cos(steep), side, np.sin(steep)])
        tried = replace(scene, eye=tuple(eye), target=tuple(target))
        seen = View(tried)
        points = np.column_stack([corners, np.zeros(4)]) - seen.eye
        u, v, w = (points @ seen.axes.T).T
        high = scene.size[1] / scene.size[0]
        if (
            np.all(w > 0)
            and np.abs(u / w).max() * scene.focal < 0.97
            and (np.abs(v / w).max() * scene.focal < 0.97 * high)
        ):
            return tried
    return tried
