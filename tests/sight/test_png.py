"""Pictures as PNG files, read back by Pillow."""

import io

import numpy as np
from PIL import Image

from pipeline.exports.png import write_png


def test_a_png_gives_back_every_pixel() -> None:
    """PNG keeps every byte (ISO/IEC 15948)."""
    picture = np.random.default_rng(1).integers(0, 256, (30, 40, 3)).astype(np.uint8)
    with Image.open(io.BytesIO(write_png(picture))) as image:
        assert image.format == "PNG"
        assert image.size == (40, 30)
        np.testing.assert_array_equal(picture, np.asarray(image))


def test_a_png_holds_pixels_and_nothing_else() -> None:
    """No date, no text, no software: IHDR, IDAT, IEND only; twice the same bytes."""
    picture = np.zeros((900, 1200, 3), dtype=np.uint8)
    data = write_png(picture)
    assert data == write_png(picture)
    kinds, at = [], 8
    while at < len(data):
        size = int.from_bytes(data[at : at + 4], "big")
        kinds.append(data[at + 4 : at + 8])
        at += size + 12
    assert set(kinds) == {b"IHDR", b"IDAT", b"IEND"}
