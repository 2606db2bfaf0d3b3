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

    def slopes(self, points: Array) -> tuple[Array, Array]:
        """How `project` moves with the points (n, 2, 3), and with the camera's own numbers
        (n, 2, `INNER` + `OUTER`)."""
        turned = points @ self.rotation.T
        seen = turned + self.pose[3:]
        plane = seen[:, :2] / seen[:, 2:]
        square = np.sum(plane**2, axis=1)[:, None]
        stretch = 1 + square * (self.inner[3] + square * self.inner[4])
        more = 2 * (self.inner[3] + 2 * square * self.inner[4])
        by_plane = self.focal * (
            stretch[:, :, None] * np.eye(2) + more[:, :, None] * plane[:, :, None] * plane[:, None]
        )
        by_seen = np.concatenate([by_plane, -(by_plane @ plane[:, :, None])], axis=2)
        by_seen /= seen[:, 2, None, None]
        own = np.zeros((len(points), 2, INNER + OUTER))
        own[:, :, 0] = self.focal * plane * stretch
        own[:, 0, 1] = own[:, 1, 2] = max(self.size) / 2
        own[:, :, 3], own[:, :, 4] = (self.focal * plane * square**n for n in (1, 2))
        own[:, :, INNER : INNER + 3] = -by_seen @ _crosses(turned) @ _turning(self.pose[:3])
        own[:, :, INNER + 3 :] = by_seen
        return by_seen @ self.rotation, own

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


def _crosses(vectors: Array) -> Array:
    """The matrices (n, 3, 3) that make cross products with vectors (n, 3)."""
    out = np.zeros((len(vectors), 3, 3))
    x, y, z = vectors.T
    out[:, 2, 1], out[:, 0, 2], out[:, 1, 0] = x, y, z
    out[:, 1, 2], out[:, 2, 0], out[:, 0, 1] = -x, -y, -z
    return out


def _turning(vector: Array) -> Array:
    """By what small turn a rotation follows when its vector moves (left Jacobian of Rodrigues'
    formula, from memory; a test compares it with differences)."""
    angle = float(np.linalg.norm(vector))
    if angle < 1e-6:
        return np.eye(3)
    cross = _crosses(vector[None])[0]
    return np.asarray(
        np.eye(3)
        + (1 - np.cos(angle)) / angle**2 * cross
        + (angle - np.sin(angle)) / angle**3 * cross @ cross
    )
