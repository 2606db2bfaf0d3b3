"""The picture with what was measured drawn over it, for the person who accepts or overrules."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from splicewright.photographs.arrays import Array
from splicewright.photographs.picture import Picture

_COLOURS = {
    "left": (0, 190, 255),
    "right": (0, 190, 255),
    "cut": (60, 60, 255),
    "chalk": (255, 170, 0),
}
_PLATE = (90, 220, 0)
"""Blue, green, red; lines are told apart by place as well."""
_FINE = 8


def draw_over(picture: Picture, lines: Mapping[str, Array]) -> bytes:
    """The picture as JPEG with lines drawn over it.

    Parameters
    ----------
    picture : as it was measured; lines : by name, places in it, shapes (n, 2) [px]
    """
    import cv2

    canvas = cv2.cvtColor(picture.grey, cv2.COLOR_GRAY2BGR)
    thick = max(1, round(max(picture.size) / 1000))
    for name, pixels in lines.items():
        for part in _whole(pixels):
            line = np.round(part * 2**_FINE).astype(np.int32).reshape(-1, 1, 2)
            for width, colour in ((3 * thick, (0, 0, 0)), (thick, _COLOURS.get(name, _PLATE))):
                cv2.polylines(canvas, [line], False, colour, width, cv2.LINE_AA, _FINE)
    _, data = cv2.imencode(".jpg", canvas, [cv2.IMWRITE_JPEG_QUALITY, 85])
    return bytes(data.tobytes())


def _whole(pixels: Array) -> list[Array]:
    """The points in stretches: nothing is drawn over a gap where no edge was found."""
    steps = np.linalg.norm(np.diff(pixels, axis=0), axis=1)
    gaps = np.flatnonzero(steps > max(6 * float(np.median(steps)), 12.0)) + 1
    return [part for part in np.split(pixels, gaps) if len(part) > 1]
