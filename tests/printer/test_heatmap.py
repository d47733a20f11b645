"""The picture of a print's walls: known thickness, known colour."""

from __future__ import annotations

import io

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from pipeline.build import Build
from pipeline.report import heatmap
from pipeline.report.heatmap import FOOT, HEIGHT, PAPER, RAMP, WIDTH, colours, wall_picture
from pipeline.sight import rays
from tests.printer.prisms import box

Pixels = NDArray[np.uint8]


def picture(png: bytes) -> Pixels:
    with Image.open(io.BytesIO(png)) as image:
        return np.asarray(image.convert("RGB"))


def commonest(pixels: Pixels) -> tuple[int, ...]:
    """Return the most frequent colour but the paper's, above the legend."""
    found, counts = np.unique(pixels[: HEIGHT - FOOT].reshape(-1, 3), axis=0, return_counts=True)
    counts[(found == PAPER).all(axis=1)] = 0
    return tuple(int(value) for value in found[counts.argmax()])


@pytest.mark.parametrize("ratio", [0.4, 0.9, 1.0, 1.25, 1.5, 1.75, 2.0, 5.0])
def test_a_plate_has_the_colour_of_its_thickness(ratio: float) -> None:
    """A plate of 60 x 40 mm shows its two large sides in the one colour of thickness over least wall.

    Rays are found in single precision, so a colour half-way between two levels may go to either.
    """
    expected = colours(np.array([ratio]))[0].astype(int)
    shown = commonest(picture(wall_picture(box(60, 40, 1.2 * ratio), 1.2)))
    assert np.abs(expected - shown).max() <= 1


def test_where_rays_are_dear_the_picture_is_coarser_but_tells_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """One ray for nine pixels, found without Embree, gives the same size of picture and the same colour."""
    monkeypatch.setattr(heatmap, "COARSE", 3)
    monkeypatch.setattr(heatmap, "MARGIN", 2)
    monkeypatch.setattr(rays, "EMBREE", False)
    shown = picture(wall_picture(box(60, 40, 1.5), 1.0))
    assert shown.shape == (HEIGHT, WIDTH, 3)
    assert np.abs(colours(np.array([1.5]))[0].astype(int) - commonest(shown)).max() <= 1


def test_the_scale_grows_lighter_all_the_way() -> None:
    """Relative luminance (Rec. 709 weights) rises with thickness, so the order is read without hue."""
    ramp = colours(np.linspace(0, 2, 201)) @ np.array([0.2126, 0.7152, 0.0722])
    parts = ramp[:100], ramp[100:]
    assert all((np.diff(part) >= -0.5).all() for part in parts)
    assert parts[0].max() < parts[1].min()
    assert [place for place, _ in RAMP] == sorted(place for place, _ in RAMP)


def test_below_the_least_wall_no_colour_is_that_of_a_wall_that_holds() -> None:
    """Plum ends where blue begins: a hundredth below 1 and 1 differ by more than 60 levels in some channel."""
    below, at = colours(np.array([0.99, 1.0])).astype(int)
    assert np.abs(below - at).max() > 60


def test_where_there_is_no_wall_the_picture_is_grey() -> None:
    """Not a number has the grey of edges."""
    (grey,) = colours(np.array([np.nan]))
    assert len(set(grey.tolist())) == 1


def test_the_same_print_gives_the_same_picture() -> None:
    """Size and bytes."""
    once, again = wall_picture(box(60, 40, 2), 1.0), wall_picture(box(60, 40, 2), 1.0)
    assert once == again
    assert picture(once).shape == (HEIGHT, WIDTH, 3)


def test_every_print_of_a_scene_has_its_picture_in_the_report(demo: Build) -> None:
    """As a file, and beside the print on the page."""
    prints = [part for part in demo.manifest["parts"] if part["made_as"] == "print"]
    page = demo.files["report.html"].decode()
    for part in prints:
        assert part["files"]["walls"] == f"pictures/walls/{part['id']}.png"
        assert picture(demo.files[part["files"]["walls"]]).shape == (HEIGHT, WIDTH, 3)
        assert f'alt="{part["id"]} from two sides' in page
