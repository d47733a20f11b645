"""The page's sections for sheets and ruler against the manifest and the measuring sheet."""

from __future__ import annotations

import csv
import io
import re
from html import unescape

import pytest

from pipeline.build import Build


def section(demo: Build, name: str) -> str:
    page = demo.files["report.html"].decode()
    return page[page.index(f'<section id="{name}">') :].split("</section>")[0]


def test_every_sheet_is_drawn_with_its_parts_and_density(demo: Build) -> None:
    """As the manifest has them: ids in their order, share of the sheet in per cent, one outline and number each."""
    text = section(demo, "sheets")
    figures = re.findall(r"<figure>(.*?)</figure>", text, re.S)
    assert len(figures) == len(demo.manifest["sheets"])
    for figure, sheet in zip(figures, demo.manifest["sheets"], strict=True):
        assert f"{100 * sheet['density']:.0f} % used" in " ".join(figure.split())
        assert sheet["area_used"] == pytest.approx(sheet["density"] * sheet["size"][0] * sheet["size"][1], rel=1e-3)
        told = " ".join(unescape(figure).split())
        listed = ", ".join(f"{number} {part['id']}" for number, part in enumerate(sheet["parts"], start=1))
        assert listed in told
        assert figure.count("<text") == len(sheet["parts"])
        assert sheet["file"] in figure


def test_the_terminal_tells_how_full_the_sheets_are(demo: Build) -> None:
    """One line a material, with each sheet's share."""
    for material in dict.fromkeys(sheet["material"] for sheet in demo.manifest["sheets"]):
        own = [sheet for sheet in demo.manifest["sheets"] if sheet["material"] == material]
        told = ", ".join(f"{100 * sheet['density']:.0f} %" for sheet in own)
        assert any(f"{material}: {len(own)} sheet" in line and told in line for line in demo.summary)


def test_the_ruler_section_holds_the_measuring_sheet(demo: Build) -> None:
    """Every row of measures.csv is on the page: lengths exact and rounded, guides as pairs of rounded marks."""
    text = unescape(section(demo, "ruler"))
    rows = list(csv.reader(io.StringIO(demo.files["measures.csv"].decode())))[1:]
    for part in dict.fromkeys(row[0] for row in rows if row[0] != "box"):
        own = text[text.index(f"<summary>{part}:") :].split("</details>")[0]
        lengths = [row for row in rows if row[0] == part and not row[2]]
        places = [row for row in rows if row[0] == part and row[2] and row[1] != "run"]
        runs = [row for row in rows if row[0] == part and row[1] == "run"]
        assert f"{len(lengths)} lengths, {len(runs)} guides" in own
        for row in lengths:
            assert f'{row[1]}</th><td class="n">{row[3]}</td><td class="n">{row[4]}</td><td class="n">{row[7]}' in own
        for row in places:
            assert f"{row[1]}: {row[4]}, {row[6]}" in own
        assert (f"From corners {places[0][2]}" in own) if places else "From corners" not in own
        for row in runs:
            assert f"{row[4]} \N{RIGHTWARDS ARROW} {row[6]}" in own
