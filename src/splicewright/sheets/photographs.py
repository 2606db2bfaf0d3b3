"""What a photograph becomes before it is kept: looked at by decoding, without what it tells aside.

Here and nowhere else, because picture libraries belong to this room.
"""

from __future__ import annotations

from base64 import b64encode
from io import BytesIO

from splicewright.errors import Fault, InputError
from splicewright.photographs.picture import TOO_DEEP, too_deep, why_unread

LARGEST_PHOTOGRAPH = 20_000_000
"""Bytes of a photograph as it is sent."""
MOST_PIXELS = 64_000_000
"""Of a photograph as it is sent; beyond it decoding could fill the memory."""
LONGEST_SIDE = 2560
"""Of a photograph as it is kept [px]: a crack of a tenth of a millimetre in a plate that fills
the picture is still there."""
MEDIA_TYPE = "image/jpeg"
_READ = ("JPEG", "PNG", "WEBP")
_ACCEPTED = "accepted is a JPEG, PNG or WebP photograph"
_QUALITY = 85
_ON_PAPER = 1100
"""Longest side on paper [px]: some 300 to the inch at 90 mm."""


def tidy_photograph(data: bytes) -> bytes:
    """The photograph as it is kept: upright, at most `LONGEST_SIDE`, a JPEG with nothing beside.

    Place, device, owner and comments that cameras write into a file are not carried over: only
    the pixels are. The same bytes give the same result.

    Raises
    ------
    InputError
        No photograph that can be decoded, or too large.
    """
    from PIL import Image, ImageOps

    say = why_unread(data, LARGEST_PHOTOGRAPH)
    if say:
        raise InputError(Fault("photograph", say))
    try:
        with Image.open(BytesIO(data), formats=_READ) as opened:
            _refuse_huge(opened.width * opened.height)
            # A JPEG can be decoded at an eighth of its size: less memory, the same picture.
            opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            if too_deep(opened.mode):
                raise InputError(Fault("photograph", TOO_DEEP))
            turned = ImageOps.exif_transpose(opened)
            # Printers' colours go to the screen's first: the library knows no other way.
            upright = (turned.convert("RGB") if turned.mode == "CMYK" else turned).convert("RGBA")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        _refuse_huge(MOST_PIXELS + 1)
    except (OSError, ValueError, SyntaxError, EOFError, IndexError) as error:
        cut = "is cut short or damaged" if "trunc" in str(error) else "cannot be decoded"
        raise InputError(Fault("photograph", f"{cut}; {_ACCEPTED}, whole")) from None
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
    # A new picture: Pillow hands comments and other data on with the old one.
    plain = Image.new("RGB", upright.size, "white")
    plain.paste(upright, mask=upright.getchannel("A"))
    kept = BytesIO()
    plain.save(kept, "JPEG", quality=_QUALITY, optimize=True)
    return kept.getvalue()


def for_paper(data: bytes) -> str:
    """A kept photograph as a drawing for paper: an SVG that holds a JPEG of `_ON_PAPER` pixels.

    Raises
    ------
    InputError
        It cannot be decoded.
    """
    from PIL import Image

    try:
        with Image.open(BytesIO(data), formats=_READ) as opened:
            opened.draft("RGB", (_ON_PAPER, _ON_PAPER))
            small = opened.convert("RGB")
    except (OSError, ValueError, SyntaxError, EOFError) as error:
        say = f"cannot be decoded ({str(error)[:80]}); {_ACCEPTED}"
        raise InputError(Fault("photograph", say)) from None
    small.thumbnail((_ON_PAPER, _ON_PAPER), Image.Resampling.LANCZOS)
    kept = BytesIO()
    small.save(kept, "JPEG", quality=_QUALITY, optimize=True)
    wide, high = small.size
    held = b64encode(kept.getvalue()).decode()
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" width="{wide}" '
        f'height="{high}"><image width="{wide}" height="{high}" '
        f'href="data:{MEDIA_TYPE};base64,{held}"/></svg>'
    )


def _refuse_huge(pixels: int) -> None:
    if pixels > MOST_PIXELS:
        say = f"has too many pixels; accepted is up to {MOST_PIXELS // 1_000_000} million"
        raise InputError(Fault("photograph", say))
