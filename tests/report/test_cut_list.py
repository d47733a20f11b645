"""The cut list on the page against the manifest and the drawings."""

from __future__ import annotations

import re
from html import unescape
from itertools import combinations
from typing import Any

import numpy as np

from pipeline.build import Build


def section(build: Build, name: str) -> str:
    page = build.files["report.html"].decode()
    return unescape(page[page.index(f'<section id="{name}">') :].split("</section>")[0])


def rows(build: Build) -> dict[tuple[str, ...], list[str]]:
    """Return the cells of every line of the cut list, by the ids of its parts."""
    found = {}
    for row in re.findall(r"<tr[^>]*>(<td class=\"n\">.*?)</tr>", section(build, "parts"), re.S):
        cells = [
            " ".join(re.sub(r"<[^>]+>", "", cell).split())
            for cell in re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, re.S)
        ]
        found[tuple(cells[2].split(", "))] = cells
    return found


def test_every_panel_is_listed_once_and_every_print_shown_once(demo: Build) -> None:
    """Pieces add up, and the numbers are those of the order of work."""
    panels = {part["id"]: part for part in demo.manifest["parts"] if part["made_as"] != "print"}
    listed = rows(demo)
    assert sorted(name for names in listed for name in names) == sorted(panels)
    for names, cells in listed.items():
        numbers = [int(end) for end in re.findall(r"\d+", cells[0])]
        assert {panels[names[0]]["order"], panels[names[-1]]["order"]} <= {*numbers}
        assert int(cells[3]) == len(names)
        assert cells[4] == " \N{MULTIPLICATION SIGN} ".join(f"{size:.1f}" for size in panels[names[0]]["size"])
    prints = [part["id"] for part in demo.manifest["parts"] if part["made_as"] == "print"]
    shown = re.findall(r"<strong>\d+ ([\w-]+)</strong>", section(demo, "prints")) if prints else []
    assert sorted(shown) == sorted(prints)


def strokes(build: Build, part: dict[str, Any]) -> np.ndarray[Any, Any]:
    """Return the numbers of all lines of a part's SVG file but the places of others, one after the other."""
    drawing = build.files[part["files"]["svg"]].decode()
    layers = re.findall(r'<g id="(?:OUTLINE|HOLES|BEVEL|GUIDE|FOLD)"(.*?)</g>', drawing, re.S)
    lines = " ".join(line for layer in layers for line in re.findall(r' d="([^"]+)"', layer))
    return np.array([float(number) for number in re.findall(r"-?\d+\.\d+", lines)])


def test_parts_share_a_line_if_their_drawings_are_one(demo: Build) -> None:
    """And only then: one material, and the same lines in the written SVG files to a twentieth of a millimetre."""
    panels = {part["id"]: part for part in demo.manifest["parts"] if part["made_as"] != "print"}
    drawn = {name: strokes(demo, part) for name, part in panels.items()}
    line_of = {name: names for names in rows(demo) for name in names}
    for one, other in combinations(panels.values(), 2):
        if one["material"] != other["material"]:
            assert line_of[one["id"]] != line_of[other["id"]]
            continue
        first, second = drawn[one["id"]], drawn[other["id"]]
        same = first.shape == second.shape and bool(np.abs(first - second).max() < 0.05)
        assert (line_of[one["id"]] == line_of[other["id"]]) == same, (one["id"], other["id"])


def test_a_part_lies_where_the_sheets_say(demo: Build) -> None:
    """Sheet and number are those of the manifest's sheets, counted from one."""
    places = {}
    count: dict[str, int] = {}
    for sheet in demo.manifest["sheets"]:
        count[sheet["material"]] = count.get(sheet["material"], 0) + 1
        for number, part in enumerate(sheet["parts"], start=1):
            places[part["id"]] = (f"{sheet['material']} {count[sheet['material']]}", number)
    for names, cells in rows(demo).items():
        for name in names:
            if name not in places:
                continue
            sheet, number = places[name]
            told = dict(one.split(", no. ", 1) for one in cells[6].split("; "))
            ranges = [[int(end) for end in run.split("\N{EN DASH}")] for run in told[sheet].split(", ")]
            assert any(run[0] <= number <= run[-1] for run in ranges)


def test_the_cistern_s_stringers_share_lines(cistern: Build) -> None:
    """Its six are two kinds of three."""
    assert [names for names in rows(cistern) if len(names) > 1] == [
        ("stringer-4", "stringer-5", "stringer-6"),
        ("stringer-1", "stringer-2", "stringer-3"),
    ]
