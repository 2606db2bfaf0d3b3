"""The belt's surface in a photograph: a plane with bow along and across, twist, and small waves.

Places on it are said as a tape laid on the belt would: x along and y across, both along the
surface. A bowed belt is a curve of the same length, so its edges stand closer than it is wide.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.photographs.arrays import Array

_ALONG = np.array([-0.45, -0.15, 0.15, 0.45])
_ACROSS = np.array([-0.6, -0.3, 0.0, 0.3, 0.6])
_WIDE = 0.25
"""Dents and humps: where their tops may be, from the middle of the sheets, and how wide they are
(standard deviation of a bell) [m]. Together they make any gentle waviness over that length."""
SHAPE = 3 + len(_ALONG) * len(_ACROSS)
"""Numbers of a surface: curvature along and across, twist [1/m], then heights of humps [m]."""
SPREAD = np.concatenate([[0.03, 0.06, 0.015], np.full(SHAPE - 3, 0.4e-3)])
"""What a belt end that lies on a floor or frame is taken to be, standard deviations: bow of 4 mm
along and 8 mm across a metre, twist of 4 mm at its corners, and waviness of 0.6 mm (humps of 0.4
overlap). Assumption of this tool, no source; the scenes of docs/photographs.md are such belts.
Twice as much made ranges that held in 98 %. A belt that lies worse is refused."""
MOST = 4.0
"""So many times its spread a bow or the twist may be; beyond, the belt is no such [1]."""


@dataclass(frozen=True, slots=True)
class Surface:
    """The belt's cover, or what lies a height above it.

    shape : `SHAPE` numbers; height : above the cover, square to its middle plane [m]
    """

    shape: Array
    height: float = 0.0

    def points(self, places: Array) -> Array:
        """Points of space (n, 3) of places (n, 2) on the surface [m]."""
        along, across = places[:, 0], places[:, 1]
        bow_x, bow_y = self.shape[0], self.shape[1]
        x = along - bow_x**2 * along**3 / 6
        y = across - bow_y**2 * across**3 / 6
        return np.column_stack([x, y, self._rise(along, across)])

    def slopes(self, places: Array) -> tuple[Array, Array]:
        """How `points` move with the places (n, 3, 2), and with the shape (n, 3, `SHAPE`)."""
        along, across = places[:, 0], places[:, 1]
        bow_x, bow_y, twist = self.shape[:3]
        near, beside, humps = self._bells(along, across)
        waves = near @ humps
        by_place = np.zeros((len(places), 3, 2))
        by_place[:, 0, 0] = 1 - bow_x**2 * along**2 / 2
        by_place[:, 1, 1] = 1 - bow_y**2 * across**2 / 2
        back = (_ALONG - along[:, None]) / _WIDE**2
        aside = (_ACROSS - across[:, None]) / _WIDE**2
        by_place[:, 2, 0] = bow_x * along + twist * across
        by_place[:, 2, 0] += np.sum(((near * back) @ humps) * beside, axis=1)
        by_place[:, 2, 1] = bow_y * across + twist * along + np.sum(waves * beside * aside, axis=1)
        by_shape = np.zeros((len(places), 3, SHAPE))
        by_shape[:, 0, 0], by_shape[:, 1, 1] = -bow_x * along**3 / 3, -bow_y * across**3 / 3
        by_shape[:, 2, :3] = np.column_stack([along**2 / 2, across**2 / 2, along * across])
        by_shape[:, 2, 3:] = (near[:, :, None] * beside[:, None, :]).reshape(len(places), -1)
        return by_place, by_shape

    def meet(self, start: Array, rays: Array) -> Array:
        """Places (n, 2) where rays (n, 3) from one point (3,) meet the surface [m].

        A ray that does not come down to it gives places that are not numbers.
        """
        down = np.where(rays[:, 2] < -1e-6, rays[:, 2], np.nan)
        z = np.full(len(rays), self.height)
        places = np.zeros((len(rays), 2))
        for _ in range(6):
            far = (z - start[2]) / down
            x, y = start[0] + far * rays[:, 0], start[1] + far * rays[:, 1]
            places = np.column_stack(
                [x + self.shape[0] ** 2 * x**3 / 6, y + self.shape[1] ** 2 * y**3 / 6]
            )
            z = self._rise(places[:, 0], places[:, 1])
        return places

    def _rise(self, along: Array, across: Array) -> Array:
        bow_x, bow_y, twist = self.shape[:3]
        near, beside, humps = self._bells(along, across)
        waves = np.sum((near @ humps) * beside, axis=1)
        bow = bow_x * along**2 / 2 + bow_y * across**2 / 2 + twist * along * across
        return np.asarray(self.height + bow + waves)

    def _bells(self, along: Array, across: Array) -> tuple[Array, Array, Array]:
        """The bells along (n, i) and across (n, j), and the heights of the humps (i, j)."""
        near = np.exp(-((along[:, None] - _ALONG) ** 2) / (2 * _WIDE**2))
        beside = np.exp(-((across[:, None] - _ACROSS) ** 2) / (2 * _WIDE**2))
        return near, beside, self.shape[3:].reshape(len(_ALONG), len(_ACROSS))
