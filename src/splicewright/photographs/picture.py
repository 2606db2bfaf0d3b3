"""A photograph as it is measured: decoded with care, upright, in grey and in linear light."""

from __future__ import annotations

from dataclasses import dataclass, field
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.photographs.arrays import Array

if TYPE_CHECKING:
    from numpy.typing import NDArray

LARGEST_FILE = 40_000_000
"""Bytes of a photograph."""
MOST_PIXELS = 50_000_000
"""Pixels of a photograph; beyond it decoding could fill the memory."""
FEWEST_PIXELS = 1200
"""Longer side below which a sheet's marks cannot be read from standing height [px]."""
LONGEST_SIDE = 2560
"""Longer side as it is measured [px]. A larger photograph is made smaller: what a tone of light or
a lens adds is then larger than a pixel, so more pixels cost time and tell nothing."""
_READ = ("JPEG", "PNG", "WEBP", "TIFF")
_ACCEPTED = "send it as JPEG, PNG or WebP"


@dataclass(frozen=True)
class Picture:
    """One photograph.

    name : of the file; grey : values 0 to 255 as the camera wrote them, shape (high, wide)
    focal : focal length in half longer sides, if the file says so
    """

    name: str
    grey: NDArray[np.uint8]
    focal: float | None = None
    _linear: list[Any] = field(default_factory=list, repr=False, compare=False)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height [px]."""
        high, wide = self.grey.shape
        return wide, high

    def sample(self, pixels: Array) -> Array:
        """Linear light (0 to 1) at places (n, 2) [px]; not a number outside the picture."""
        import cv2

        if not self._linear:
            # What the sRGB curve (IEC 61966-2-1) did is undone: a blurred edge lies where half
            # the light is, not half the grey.
            grey = np.arange(256) / 255
            table = np.where(grey <= 0.04045, grey / 12.92, ((grey + 0.055) / 1.055) ** 2.4)
            self._linear.append(table.astype(np.float32)[self.grey])
        flat = np.ascontiguousarray(pixels, dtype=np.float32)
        out = np.empty(len(flat))
        # The library's remap takes at most 32767 places a side.
        for first in range(0, len(flat), 30_000):
            part = flat[first : first + 30_000]
            out[first : first + len(part)] = cv2.remap(
                self._linear[0],
                part[:, 0:1],
                part[:, 1:2],
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_CONSTANT,
                borderValue=(-1.0,),
            ).ravel()
        wide, high = self.size
        inside = (
            (pixels[:, 0] >= 0)
            & (pixels[:, 1] >= 0)
            & (pixels[:, 0] <= wide - 1)
            & (pixels[:, 1] <= high - 1)
        )
        return np.where(inside, out, np.nan)


TOO_DEEP = f"has 16 or 32 bits a colour; {_ACCEPTED} with 8"
_HEIC = (b"heic", b"heix", b"heim", b"heis", b"mif1", b"msf1", b"hevc", b"hevx", b"avif")


def why_unread(data: bytes, largest: int) -> str:
    """Why a file is not even opened as a photograph; empty when it is. Every door asks this.

    Parameters
    ----------
    data : the file's bytes; largest : accepted [byte]
    """
    if not data:
        return "is empty (0 bytes); send the photograph again"
    if len(data) > largest:
        return f"is {len(data) / 1e6:.1f} MB; accepted is up to {largest / 1e6:.0f} MB"
    if data[4:8] == b"ftyp" and data[8:12] in _HEIC:
        return f"is a HEIC photograph, which is not read here; {_ACCEPTED}"
    return ""


def too_deep(mode: str) -> bool:
    """Whether a picture of this mode of the library has more than 8 bits a colour."""
    return mode.startswith("I") or mode == "F"


def read_picture(data: bytes, name: str) -> Picture:
    """Decode a photograph: upright, grey, its longer side at most `LONGEST_SIDE`.

    Parameters
    ----------
    data : the file's bytes
    name : for refusals

    Raises
    ------
    InputError
        Empty, too large, too small, cut short, or no photograph of an accepted kind.
    """
    from PIL import Image, ImageOps

    def refuse(sentence: str) -> InputError:
        return InputError(Fault("", sentence, name))

    say = why_unread(data, LARGEST_FILE)
    if say:
        raise refuse(say)
    try:
        with Image.open(BytesIO(data), formats=_READ) as opened:
            wide, high = opened.size
            if wide * high > MOST_PIXELS:
                say = f"{wide} by {high} pixels; accepted is up to {MOST_PIXELS // 10**6} million"
                raise refuse(f"has {say}")
            if max(wide, high) < FEWEST_PIXELS:
                say = f"{wide} by {high} pixels; accepted is {FEWEST_PIXELS} or more on its longer"
                raise refuse(f"has {say} side: send the original, not a preview")
            focal = _focal(opened.getexif(), max(wide, high) / (wide**2 + high**2) ** 0.5)
            if too_deep(opened.mode):
                raise refuse(TOO_DEEP)
            # CMYK becomes RGB on the way; a JPEG can be decoded at half its size.
            opened.draft("L", (LONGEST_SIDE, LONGEST_SIDE))
            upright = ImageOps.exif_transpose(opened).convert("L")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        say = f"has too many pixels; accepted is up to {MOST_PIXELS // 10**6} million"
        raise refuse(say) from None
    except InputError:
        raise
    except (OSError, ValueError, SyntaxError, EOFError, IndexError, TypeError) as error:
        short = "trunc" in str(error)
        wording = "is cut short or damaged" if short else "is no photograph that can be read"
        raise refuse(f"{wording}; {_ACCEPTED}, whole") from None
    if max(upright.size) > LONGEST_SIDE:
        upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
    return Picture(name, np.asarray(upright, dtype=np.uint8), focal)


_FOCAL_35 = 0xA405
_EXIF = 0x8769
_FILM = (36**2 + 24**2) ** 0.5
"""Diagonal of the film that cameras compare their focal length with [mm]."""


def _focal(exif: Any, longer: float) -> float | None:
    """Focal length in half longer sides, which are this share of the diagonal, if it is told."""
    try:
        film = float(exif.get_ifd(_EXIF).get(_FOCAL_35, 0))
    except (TypeError, ValueError, ArithmeticError):
        return None
    return film / (_FILM * longer / 2) if 10 <= film <= 200 else None
