"""What is sent as a photograph: each thing that is none gets one clear sentence."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from splicewright.errors import InputError
from splicewright.photographs.picture import LONGEST_SIDE, read_picture


def encoded(mode: str = "RGB", size: tuple[int, int] = (1600, 1200), kind: str = "JPEG") -> bytes:
    out = BytesIO()
    Image.new(mode, size).save(out, kind)
    return out.getvalue()


def refusal(data: bytes) -> str:
    with pytest.raises(InputError) as refused:
        read_picture(data, "p")
    (fault,) = refused.value.faults
    assert fault.file == "p"
    return fault.sentence


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "0 bytes"),
        (b"\x00" * 50_000_001, "40 MB"),
        (b"\x00\x00\x00\x18ftypheic" + b"\x00" * 200, "HEIC"),
        (b"no picture at all", "no photograph"),
        (encoded()[:3000], "cut short"),
        (encoded(size=(640, 480)), "1200 or more"),
        (encoded("I;16", kind="PNG"), "16 or 32 bits"),
        (encoded("1", (9000, 9000), "PNG"), "50 million"),
    ],
)
def test_what_is_no_photograph_is_refused_in_one_sentence(data: bytes, word: str) -> None:
    assert word in refusal(data)


def test_a_bomb_is_refused_before_it_is_unpacked() -> None:
    # 225 million pixels in some 30 kB.
    data = encoded("1", (15_000, 15_000), "PNG")
    assert len(data) < 100_000
    assert "50 million" in refusal(data)


@pytest.mark.parametrize("mode", ["CMYK", "L", "RGB"])
def test_colours_of_print_and_grey_are_read(mode: str) -> None:
    assert read_picture(encoded(mode), "p").size == (1600, 1200)


@pytest.mark.parametrize("turn", range(1, 9))
def test_a_photograph_comes_upright(turn: int) -> None:
    # Exif 2.3, tag 0x0112: how the stored rows and columns lie in the scene; Pillow's own
    # transposition is the outside opinion on where the light corner goes.
    stored = Image.new("L", (1600, 1200))
    stored.paste(255, (0, 0, 400, 300))
    exif = Image.Exif()
    exif[0x0112] = turn
    exif.get_ifd(0x8769)[0xA405] = 26
    out = BytesIO()
    stored.save(out, "JPEG", exif=exif)
    upright = {
        1: None,
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }[turn]
    wanted = np.asarray(stored if upright is None else stored.transpose(upright)) > 127
    got = read_picture(out.getvalue(), "p")
    assert np.mean((got.grey > 127) == wanted) > 0.999
    # 26 mm on film 36 by 24 mm, by the diagonal (CIPA DCG-001, from memory); 4:3 picture.
    assert got.focal == pytest.approx(26 / (np.hypot(36, 24) * 0.8 / 2))


def test_a_large_photograph_is_made_smaller() -> None:
    assert read_picture(encoded(size=(4000, 3000)), "p").size == (LONGEST_SIDE, 1920)


def test_light_is_sampled_between_pixels_and_not_outside() -> None:
    grey = np.zeros((900, 1200), dtype=np.uint8)
    grey[:, 600:] = 255
    out = BytesIO()
    Image.fromarray(grey).save(out, "PNG")
    picture = read_picture(out.getvalue(), "p")
    seen = picture.sample(np.array([[599.5, 400.0], [599.25, 400.0], [-1.0, 5.0], [5.0, 900.0]]))
    assert seen[:2] == pytest.approx([0.5, 0.25], abs=0.02)
    assert np.isnan(seen[2:]).all()
