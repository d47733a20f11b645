"""The eye's picture against one drawn from the built model by other means.

A colour's shares, blue to red and green to red, tell which part is seen and how deep it is believed to be, and
nothing else: light and lines darken all three alike, the tone is the part's, and with the depth blue fades most.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from pipeline.build import Build
from pipeline.report.light_overlay import DARK, LIT
from pipeline.report.pictures import ASIDE_MM, EDGE_TONE
from pipeline.sight.light import FALL
from pipeline.sight.picture import DARKNESS, RIM_WOOD, SHEET_EDGE, SURROUND

from ..conftest import built
from .z_buffer import Standing, draw, read_model

Array = NDArray[np.float64]

EVERY = 5
"""Every fifth pixel each way: 240 x 180 of 1200 x 900."""
ROUNDING = 1.2
"""Steps of 255: blue or green and red are each half a step off, so a share is off by at most this over the red."""
RIM = 6.0
"""mm; the boards of every demo scene's box, told or not."""


BOX = {
    "Rain cistern": (180.0, 150.0),
    "Pump room": (180.0, 150.0),
    "Between decks": (228.6, 127.0),
    "Foot tunnel": (120.0, 120.0),
    "Market arcade": (220.0, 140.0),
    "Library aisle": (150.0, 190.0),
    "Yard in the snow": (170.0, 130.0),
}
"""Width and height inside, mm, as the scenes' files have them: 9 in x 5 in for the third."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """What both pictures have at the same places.

    Attributes
    ----------
    colours
        ``(h, w, 3)`` of the program's picture, 0 to 255.
    part
        ``(h, w)`` number of the part that the z-buffer sees, -1 for none.
    deep
        ``(h, w)`` believed depth as a share of the room's.
    inner
        ``(h, w)`` whether no other part is seen within one place: a border may lie half a pixel off. Nor is one told by
        the picture itself, whose pixels on the border of a shadow or at a sheet's edge are a mixture of both sides.
    """

    colours: Array
    part: NDArray[np.int64]
    deep: Array
    inner: NDArray[np.bool_]


def finished(build: Build) -> list[Standing]:
    """Return the built model's parts, each sheet as far before its place as its coat of plaster or filler is thick."""
    told = {part["id"]: part for part in build.manifest["parts"]}
    out = []
    for one in read_model(build.files["built.glb"]):
        coat = told[one.part].get("finish", 0.0)
        out.append(
            replace(one, triangles=one.triangles + coat * np.array(told[one.part]["built_from_flat"])[:3, 2])
            if coat
            else one
        )
    return out


def look(build: Build, name: str, parts: list[Standing]) -> Seen:
    """Return a picture of the program, and what the z-buffer sees of the parts from the same point."""
    relief = build.manifest["relief"]
    at = np.array(relief["eye"])
    at[0] += ASIDE_MM if name == "aside" else 0.0
    picture = np.asarray(Image.open(io.BytesIO(build.files[f"pictures/{name}.png"])).convert("RGB"), dtype=np.float64)
    height, width = (size // EVERY for size in picture.shape[:2])
    # The whole front with its boards, 2 % of the picture left free on each side, in the middle.
    wide, high = BOX[build.manifest["title"]]
    fine = 1.04 * max((wide + 2 * RIM) / (EVERY * width), (high + 2 * RIM) / (EVERY * height))
    pixel, half = EVERY * fine, EVERY // 2
    left, top = -pixel * width / 2, high / 2 + pixel * height / 2
    triangles = np.concatenate([one.triangles for one in parts])
    owner = np.repeat(np.arange(len(parts)), [len(one.triangles) for one in parts])
    index, nearness = draw(triangles, at, left, top, pixel, (height, width))
    part = np.where(index >= 0, owner[index], -1)
    inner = np.ones(part.shape, dtype=bool)
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            inner &= np.roll(part, (down, across), (0, 1)) == part
    colours = picture[half::EVERY, half::EVERY]
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            beside = picture[half + down :: EVERY, half + across :: EVERY]
            inner &= np.abs(shares(beside) - shares(colours)).max(axis=-1) < doubt(beside) + doubt(colours)
    # A border that runs slantwise mixes a little of what is beyond it into the next pixel too.
    inner = np.logical_and.reduce([np.roll(inner, step, axis) for step in (-1, 0, 1) for axis in (0, 1)])
    return Seen(
        colours=colours,
        part=part,
        deep=believed(relief, at[1] * (1 - 1 / np.where(nearness > 0, nearness, 1.0))),
        inner=inner,
    )


def believed(relief: dict[str, float], built: Array) -> Array:
    """Return believed depths as shares of the room's: u = v / (b - a v), w = 1 + a u turned round.

    Behind the back wall all is as deep as the wall.
    """
    apron, deepest, distance = relief["apron"], relief["apparent_depth"], relief["eye_distance"] + relief["apron"]
    far, near = deepest - apron, relief["built_depth"] - apron
    a, b = (far - near) / (far * (distance + near)), near * (far + distance) / (far * (distance + near))
    behind = np.clip(built - apron, 0, near)
    share: Array = np.where(built < apron, built, apron + behind / (b - a * behind)) / deepest
    return share


def shares(colours: Array) -> Array:
    """Return blue to red and green to red ``(..., 2)``."""
    return np.stack([colours[..., 2] / colours[..., 0], colours[..., 1] / colours[..., 0]], axis=-1)


def doubt(colours: Array) -> Array:
    """Return how far shares are off at most for having been rounded."""
    return ROUNDING / colours[..., 0]


def doubted(seen: Seen, parts: list[Standing]) -> NDArray[np.bool_]:
    """Return where ``(h, w)`` the program's colour is none that the part seen there has at its depth."""
    out = np.zeros(seen.part.shape, dtype=bool)
    judged = seen.inner & (seen.colours.max(axis=-1) < 255)  # a channel at its end is cut off
    for number, one in enumerate(parts):
        here = judged & (seen.part == number)
        lit = [np.minimum(one.tone * light, 1.0) for light in (np.ones(3), np.array(LIT), np.array(DARK))]
        tones = np.array([*lit, EDGE_TONE])
        said = shares(tones * (1 - seen.deep[here][:, None, None] * FALL))
        off = np.abs(said - shares(seen.colours[here])[:, None]) / doubt(seen.colours[here])[:, None, None]
        out[here] = (off.max(axis=-1) > 1).all(axis=-1)
    empty = 255 * np.array([SURROUND, RIM_WOOD, SHEET_EDGE, DARKNESS])
    far = np.abs(seen.colours[..., None, :] - empty).max(axis=-1).min(axis=-1) > 1
    out |= seen.inner & (seen.part < 0) & far
    return out


@pytest.mark.parametrize("name", ["eye", "aside"])
def test_a_z_buffer_sees_what_the_picture_shows(demo: Build, name: str) -> None:
    """Away from borders every colour is one of the part that is nearest there, at the depth it has there."""
    parts = finished(demo)
    seen = look(demo, name, parts)
    assert (seen.inner & (seen.part >= 0)).mean() > 0.3
    assert doubted(seen, parts).sum() == 0


def test_a_part_left_out_or_out_of_place_would_be_noticed() -> None:
    """Of the tunnel: without a rib or the back wall, or with a wall 3 mm deeper, another thing is seen."""
    tunnel = built("tunnel")
    parts = finished(tunnel)
    for name in ("rib-left-1", "back-wall"):
        less = [one for one in parts if one.part != name]
        assert doubted(look(tunnel, "eye", less), less).sum() > 50, name
    back = np.array([0.0, 3.0, 0.0])
    moved = [replace(one, triangles=one.triangles + back * (one.part == "flood-gate")) for one in parts]
    assert doubted(look(tunnel, "aside", moved), moved).sum() > 50
