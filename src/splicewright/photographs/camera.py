"""A phone's camera: where a point of space comes to lie in its picture, and back.

A pinhole with radial distortion r (1 + k1 r² + k2 r⁴), r in focal lengths from the axis (Brown
1966, from memory). Space is the belt's: x forward to the cut, y left, z up out of the cover [m];
the picture is in pixels, x to the right and y down, with pixel centres at whole numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.photographs.arrays import Array

INNER = 5
"""Numbers of the inner camera: log of the focal length [px], axis x and y in halves of the
longer side from the middle, k1, k2."""
OUTER = 6
"""Numbers of its pose: rotation vector [rad] and translation [m], belt to camera."""


@dataclass(frozen=True, slots=True)
class Camera:
    """One photograph's camera.

    inner : `INNER` numbers; pose : `OUTER` numbers; size : width and height of the picture [px]
    """

    inner: Array
    pose: Array
    size: tuple[int, int]

    @property
    def focal(self) -> float:
        """Focal length [px]."""
        return float(np.exp(self.inner[0]))

    @property
    def axis(self) -> Array:
        """Where the axis meets the picture [px], shape (2,)."""
        wide, high = self.size
        return np.array([(wide - 1) / 2, (high - 1) / 2]) + self.inner[1:3] * max(wide, high) / 2

    @property
    def rotation(self) -> Array:
        """Belt to camera, shape (3, 3)."""
        return rotation(self.pose[:3])

    @property
    def place(self) -> Array:
        """Where the lens is, in the belt's axes [m], shape (3,)."""
        return -self.rotation.T @ self.pose[3:]

    def project(self, points: Array) -> Array:
        """Points of space (n, 3) [m] in the picture (n, 2) [px]."""
        seen = points @ self.rotation.T + self.pose[3:]
        plane = seen[:, :2] / seen[:, 2:]
        return self.axis + self.focal * plane * self._stretch(plane)

    def rays(self, pixels: Array) -> Array:
        """Directions (n, 3) in the belt's axes in which pixels (n, 2) look; not of unit length."""
        bent = (pixels - self.axis) / self.focal
        plane: Array = bent
        for _ in range(12):
            plane = bent / self._stretch(plane)
        ahead: Array = np.column_stack([plane, np.ones(len(plane))]) @ self.rotation
        return ahead

    def _stretch(self, plane: Array) -> Array:
        square = np.sum(plane**2, axis=1, keepdims=True)
        return np.asarray(1 + square * (self.inner[3] + square * self.inner[4]))


def rotation(vector: Array) -> Array:
    """Rotation matrix of a rotation vector (Rodrigues)."""
    angle = float(np.linalg.norm(vector))
    x, y, z = vector
    cross: Array = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    if angle < 1e-9:
        return np.asarray(np.eye(3) + cross)
    twice: Array = cross @ cross
    return np.asarray(
        np.eye(3) + np.sin(angle) / angle * cross + (1 - np.cos(angle)) / angle**2 * twice
    )
