"""Aerial perspective: the laws of the air by print, depths by the manifest's own matrix, the strip by other readers."""

from __future__ import annotations

import io
import math
import re
from functools import cache
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pypdf
import pytest

from pipeline.build import Build, build_scene
from pipeline.exports.haze_strip import Block, blocks_of, paged
from pipeline.room.airing import Haze, HazeStep
from pipeline.sight import air
from tests.scene_text import COVERED

HAZY = """
[air]
visibility = 30
haze = "#C8D0D8"
steps = 4
[air.paints]
brick = "#803820"
soot = "#000000"
"""


@cache
def built(more: str = "") -> Build:
    return build_scene((COVERED + HAZY.replace("steps = 4", f"steps = 4\n{more}")).encode(), "room")


def steps(more: str = "") -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = built(more).manifest["air"]["steps"]
    return out


@pytest.mark.parametrize(("threshold", "times"), [(0.05, 2.996), (0.02, 3.912)])
def test_extinction_is_some_three_or_four_over_the_visibility(threshold: float, times: float) -> None:
    """2.996 / v for 5 % (CIE e-ILV 845-31-020), 3.912 / v for 2 % (Koschmieder)."""
    assert air.extinction(1000, threshold) == pytest.approx(times / 1000, abs=5e-7)
    assert air.contrast(air.extinction(1000, threshold), 1000) == pytest.approx(threshold)


def test_light_is_mixed_and_not_its_numbers() -> None:
    """Half black, half white is code 188, half of white's light by IEC 61966-2-1; the ends are themselves."""
    assert air.mixed("#000000", "#FFFFFF", 0.5) == "#BCBCBC"
    assert air.mixed("#803820", "#C8D0D8", 0.0) == "#803820"
    assert air.mixed("#803820", "#C8D0D8", 1.0) == "#C8D0D8"
    assert air.mixed("#0A0A0A", "#FFFFFF", 0.0) == "#0A0A0A"  # on the straight toe


def test_every_step_stands_at_its_built_depth() -> None:
    """Equal steps of the 12 m through the manifest's matrix; each keeps 5 % to the power of its share of 30 m."""
    matrix = np.array(built().manifest["built_from_imagined"])
    found = steps()
    assert [one["imagined"] for one in found] == [0, 3, 6, 9, 12]
    for one in found:
        image = matrix @ [0, one["imagined"] * 1000 / 48, 0, 1]
        assert one["built"] == pytest.approx(image[1] / image[3], abs=1e-3)
        assert one["contrast"] == pytest.approx(0.05 ** (one["imagined"] / 30), abs=1e-4)
        assert one["share"] == pytest.approx(1 - one["contrast"], abs=1e-4)


def test_haze_may_begin_at_the_eye() -> None:
    """420 mm at 1:48 are 20.16 m of air before the opening."""
    assert steps('start = "eye"')[0]["contrast"] == pytest.approx(math.exp(-2.9957 / 30 * 20.16), abs=1e-4)


def test_another_threshold_is_another_air() -> None:
    """Koschmieder's 2 % makes the same visibility hazier; the page says whose it is."""
    assert steps("threshold = 0.02")[-1]["contrast"] == pytest.approx(0.02 ** (12 / 30), abs=1e-4)
    assert "(Koschmieder)" in built("threshold = 0.02").files["report.html"].decode()
    assert "(CIE e-ILV 845-31-020)" in built().files["report.html"].decode()


def test_the_picture_holds_every_swatch_in_its_colour() -> None:
    """Read by an XML parser: four steps and the front of two paints, and a gauge a band for each millimetre."""
    root = ElementTree.fromstring(built().files["pictures/air.svg"])
    fills = [rect.get("fill") for rect in root.iter("{http://www.w3.org/2000/svg}rect")][1:]
    expected = {colour for one in steps() for colour in one["paints"].values()}
    assert expected <= set(fills)
    deep = built().manifest["relief"]["built_depth"]
    assert len(fills) == 2 * (5 + math.floor(deep))


def test_the_paper_has_the_strip_on_its_last_page_at_true_size() -> None:
    """Read by another reader: figures, colours as PDF writes them, and a gauge as long as the built depth."""
    reader = pypdf.PdfReader(io.BytesIO(built().files["templates.pdf"]))
    page = reader.pages[-1]
    text = page.extract_text()
    for one in steps():
        assert f"{one['built']:.1f} mm" in text
        assert f"{100 * one['share']:.0f} %" in text
    content = page.get_contents()
    assert content is not None
    wides = [float(wide) for wide in re.findall(r"([\d.]+) [\d.]+ re\b", content.get_data().decode("latin-1"))]
    assert math.floor(built().manifest["relief"]["built_depth"]) in wides
    assert len(reader.pages) == len(plain_pages()) + 1


@pytest.mark.parametrize(("deep", "lengths"), [(170, [170]), (171, [170, 1]), (510, [170, 170, 170]), (511, [])])
def test_a_gauge_has_three_lengths_at_most(deep: int, lengths: list[int]) -> None:
    """Each of 170 mm of built depth; a deeper box gets its swatches alone."""
    bands = tuple(HazeStep(imagined=k / 10, built=k + 0.5, contrast=0.9) for k in range(deep))
    haze = Haze(sigma=0.1, before=0.0, steps=bands[:4], bands=bands)
    swatches, *gauges = blocks_of(haze, {"brick": "#803820"}, "#C8D0D8")
    assert len(swatches.patches) == 4
    assert [len(block.patches) for block in gauges] == lengths


def test_blocks_stay_whole_and_in_order_from_page_to_page() -> None:
    """Of 60, 50 and 40 mm two and their gap of 7 fill 117 mm; one higher than a page has one for itself."""
    blocks = [Block(height=height, patches=(), words=()) for height in (60.0, 50.0, 40.0, 200.0, 60.0, 50.1)]
    pages = paged(blocks, 117.0)
    assert [[block.height for block in page] for page in pages] == [[60, 50], [40], [200], [60], [50.1]]


def plain_pages() -> list[pypdf.PageObject]:
    plain = build_scene(COVERED.encode(), "room")
    assert "air" not in plain.manifest
    assert "pictures/air.svg" not in plain.files
    return list(pypdf.PdfReader(io.BytesIO(plain.files["templates.pdf"])).pages)
