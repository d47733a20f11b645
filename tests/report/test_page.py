"""The page: well-formed, on its own, safe against what a scene file may hold."""

import base64
import re
from dataclasses import replace
from html.parser import HTMLParser
from importlib import resources

import numpy as np
import pytest

from pipeline.checks.model import Finding
from pipeline.elements.hall_shape import Hall
from pipeline.exports.png import write_png
from pipeline.relief.collineation import Relief
from pipeline.report.bench import SheetRow
from pipeline.report.cautions import CAUTIONS, cautions
from pipeline.report.contents import GROUPS
from pipeline.report.cut_list import cut_groups
from pipeline.report.forgiving_words import ForgivingRow, ForgivingWords, ViewerRow
from pipeline.report.gathering import figures
from pipeline.report.model import CheckRow, EdgeRow, Figure, Note, PartRow, ReportData, Shot
from pipeline.report.model_view import ModelView
from pipeline.report.page import render_page, viewer
from pipeline.scene.materials import Material

HOSTILE = '</title><script>alert(1)</script><img src=x onerror="alert(2)">&\'"'
VOID = {"meta", "img", "rect", "circle", "path", "br", "input"}
SVG_FILE = b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect width="9"/></svg>\n'
SHEET = SheetRow(
    name="foam 1", size=(300.0, 200.0), files=("sheets/foam-1.dxf",), parts=("floor",), used=120.4, density=20.1,
    drawing='<svg viewBox="0 0 9 9"></svg>',
)  # fmt: skip


class Reader(HTMLParser):
    """Walks a page, insists that tags close in order, and keeps what it saw."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.text = ""
        self.feed(page.decode())
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert tag not in VOID
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.text += data

    def values(self, name: str) -> list[str]:
        return [attributes[name] for _, attributes in self.tags if name in attributes]


def finding(status: str, part: str = "floor", check: str = "stock") -> Finding:
    if status == "pass":
        return Finding(id=check, part=part, status="pass", value=1.25, limit=3.0, unit="mm", message="fits")
    if status == "warn":
        return Finding(id=check, part=part, status="warn", value=2.5, limit=3.0, unit="mm", message="look at it")
    return Finding(id=check, part=part, status="fail", value=None, limit=None, unit="", message="take a larger sheet")


def check(check_id: str, *statuses: str) -> CheckRow:
    return CheckRow(
        id=check_id,
        title=f"Does {check_id} hold?",
        rationale="Because the bench says so.",
        findings=tuple(finding(status, check=check_id) for status in statuses),
    )


@pytest.fixture
def report() -> ReportData:
    picture = write_png(np.full((3, 4, 3), 90, dtype=np.uint8))
    made = ReportData(
        title="Rain store",
        summary="A room 12 m deep.",
        figures=(Figure(name="Back scale", value="0.5909", note="of the imagined one"),),
        shots=(
            Shot(file="pictures/eye.png", png=picture, caption="From the eye.", alt="A long room."),
            Shot(file="pictures/imagined.png", png=picture, caption="As imagined.", alt="The same room."),
            Shot(file="pictures/aside.png", png=picture, caption="From aside.", alt="A bent room."),
        ),
        plan=SVG_FILE,
        section=SVG_FILE,
        forgives=ForgivingWords(
            lead="The picture is right from one point.",
            rows=(ForgivingRow(way="left", parallax="3.3 mm", crease="any distance"),),
            creases=True,
            advice=(("One eye", "Close the other."),),
            viewers=(
                ViewerRow(height="78.0 mm", parallax="0.0", sideways="3.3 mm", upright="3.2 mm", along="20.4 mm"),
            ),
            map=SVG_FILE,
        ),
        parts=(
            PartRow(
                id="floor",
                made_as="panel",
                material="foam 3 mm",
                size=(178.84, 82.0),
                amount="120.4 cm²",
                files=("panels/floor.dxf", "panels/floor.svg"),
                edges=(
                    EdgeRow(
                        length=81.237, against="left-wall", angle_deg=(88.04, 90.0), bevel_deg=(-0.01, 0.01),
                        gap=(0.0, 0.0),
                    ),
                    EdgeRow(length=170.0, against="", angle_deg=None, bevel_deg=(0.0, 0.0), gap=(0.0, 0.0)),
                ),
                notes=("12 guide lines would lie too close.",),
                order=1,
                stock="foam",
            ),
            PartRow(
                id="pier-left-1",
                made_as="print",
                material="resin",
                size=(9.0, 9.0, 120.0),
                amount="1.64 cm³",
                order=2,
                files=("prints/pier-left-1.stl",),
            ),
        ),
        checks=(check("one", "pass", "pass"), check("two", "pass", "warn"), check("three", "warn", "fail", "pass")),
        notes=(Note(subject="pier", text="stands on the floor"),),
        processes=frozenset({"laser", "resin"}),
        materials=("foam", "card"),
    )  # fmt: skip
    return replace(made, cut_list=cut_groups(made.parts, {"foam": Material(thickness=3.0)}))


def listed(report: ReportData, part: PartRow) -> ReportData:
    """Return the page's content with one part."""
    return replace(report, parts=(part,), cut_list=cut_groups((part,), {"foam": Material(thickness=3.0)}))


def test_the_page_is_well_formed(report: ReportData) -> None:
    """Every tag closes in its order, ids are there once, every link within the page leads somewhere."""
    reader = Reader(render_page(report))
    ids = reader.values("id")
    assert len(ids) == len(set(ids))
    inner = [link[1:] for link in reader.values("href") if link.startswith("#")]
    assert inner
    assert set(inner) <= set(ids)
    assert reader.tags[0] == ("html", {"lang": "en"})
    assert [tag for tag, _ in reader.tags].count("h1") == 1


def test_the_page_loads_nothing_from_elsewhere(report: ReportData) -> None:
    """No address but the SVG namespace's name, no script, every picture inside, every file beside the page."""
    page = render_page(report)
    reader = Reader(page)
    assert set(re.findall(rb"[a-z]+://[^\"' <)]*", page)) == {b"http://www.w3.org/2000/svg"}
    assert b"//" not in page.replace(b"http://www.w3.org/2000/svg", b"").split(b"data:image")[0]
    tags = {tag for tag, _ in reader.tags}
    assert tags.isdisjoint({"script", "link", "iframe", "object", "embed", "base", "form"})
    assert all(source.startswith("data:image/png;base64,") for source in reader.values("src"))
    assert b"@import" not in page
    assert b"url(" not in page.replace(b"url(#", b"")
    files = [link for link in reader.values("href") if not link.startswith("#")]
    assert {"panels/floor.dxf", "prints/pier-left-1.stl", "pictures/eye.png", "manifest.json"} <= set(files)
    assert not any(link.startswith("/") or ".." in link or ":" in link for link in files)


def test_a_picture_in_the_page_is_the_picture(report: ReportData) -> None:
    """The data address decodes to the very file."""
    source = Reader(render_page(report)).values("src")[0]
    assert report.shots[0].png == base64.b64decode(source.split(",")[1])


@pytest.mark.parametrize("place", ["title", "summary", "note", "part", "finding", "caption", "material"])
def test_what_a_scene_says_stays_text(report: ReportData, place: str) -> None:
    """Markup from a scene file is shown, never obeyed."""
    part, shot, row = report.parts[0], report.shots[0], report.checks[0]
    bad = {
        "title": replace(report, title=HOSTILE),
        "summary": replace(report, summary=HOSTILE),
        "note": replace(report, notes=(Note(subject=HOSTILE, text=HOSTILE),)),
        "part": listed(report, replace(part, id=HOSTILE, files=(f'x"{HOSTILE}',), notes=(HOSTILE,))),
        "finding": replace(report, checks=(replace(row, findings=(replace(row.findings[0], message=HOSTILE),)),)),
        "caption": replace(report, shots=(replace(shot, caption=HOSTILE, alt=HOSTILE),) * 3),
        "material": listed(report, replace(part, material=HOSTILE)),
    }[place]
    reader = Reader(render_page(bad))
    assert HOSTILE in reader.text
    assert "script" not in {tag for tag, _ in reader.tags}
    assert not any(name.startswith("on") for _, attributes in reader.tags for name in attributes)
    assert [tag for tag, _ in reader.tags].count("img") == 3


def test_every_status_is_said_in_words_and_the_gravest_first(report: ReportData) -> None:
    """Colour only repeats: a check is as grave as its gravest answer, and tells that one first; all answers count."""
    page = render_page(report).decode()
    assert [row.status for row in report.checks] == ["pass", "warn", "fail"]
    assert [f.status for f in report.checks[2].gravest_first] == ["fail", "warn", "pass"]
    words = " ".join(Reader(page.encode()).text.split())
    for said in ("4 passed", "2 warnings", "1 failed", "✓ pass", "! warning", "✕ FAIL", "take a larger sheet"):
        assert said.replace("✕", "\N{MULTIPLICATION X}") in words
    opened = re.findall(r'<details id="check-\w+" class="check (\w+)"( open)?>', page)
    assert opened == [("fail", " open"), ("warn", " open"), ("pass", "")]
    assert "1 other passed" in words
    assert CheckRow(id="x", title="", rationale="", findings=()).status == "pass"


def test_one_warning_is_told_as_one(report: ReportData) -> None:
    """And none or several as several."""
    for statuses, said in (((), "0 warnings"), (("warn",), "1 warning"), (("warn", "warn"), "2 warnings")):
        words = " ".join(Reader(render_page(replace(report, checks=(check("one", *statuses),)))).text.split())
        assert f"! {said} " in words


def test_edges_read_as_a_cut_list(report: ReportData) -> None:
    """Length to a hundredth, ranges where both ends differ, one number where they read alike, a dash for none."""
    words = Reader(render_page(report)).text
    for said in ("81.24", "88.0{dash}90.0°", "0.0°", "free", "178.8 {by} 82.0", "9.0 {by} 9.0 {by} 120.0", "12 guide"):
        assert said.format(dash="\N{EN DASH}", by="\N{MULTIPLICATION SIGN}") in words
    assert "free\N{EN DASH}" in "".join(words.split())
    assert "-0.0" not in words


def test_cautions_fit_what_is_done(report: ReportData) -> None:
    """A laser brings the laser's caution, foam brings the foam's; nothing of them where there is neither."""
    plain = {one.subject for one in cautions(replace(report, processes=frozenset({"hand"}), materials=("card",)))}
    laser = {one.subject for one in cautions(replace(report, materials=("Blue Foam",)))}
    assert plain == {"Blades", "Dust", "Glue and putty"}
    assert laser == {*plain, "Laser", "Resin", "Foam"}


def test_a_caution_stands_beside_its_section_or_at_the_end(report: ReportData) -> None:
    """Once each: beside the section it names, among the general ones where the page has no such section."""
    with_sheets = Reader(render_page(replace(report, sheets=(SHEET,)))).text
    without = Reader(render_page(report)).text
    for words in (with_sheets, without):
        for one in cautions(report):
            assert words.count(one.text) == 1
    laser = next(one.text for one in cautions(report) if one.subject == "Laser")
    assert with_sheets.index(laser) < with_sheets.index("How the parts lie on your stock")
    assert without.index(laser) > without.index("Because the bench says so.")


def test_data_sheets_manuals_and_rules_have_the_last_word(report: ReportData) -> None:
    """The deferring line ends the page's last section."""
    last = Reader(render_page(report)).text.split("Cautions")[-1]
    for said in ("data sheets", "manual", "local rules", "licensed"):
        assert said in last


def test_the_list_of_contents_is_the_page(report: ReportData) -> None:
    """Each section that has anything to show, numbered within its group, in the order of the page, and no other."""
    page = render_page(report).decode()
    listed = re.findall(r'<li><a href="#([\w-]+)"><span class="place">(\w+)</span> ([^<]+)</a>', page)
    headed = re.findall(r'<section id="([\w-]+)">\n<h2><span class="place">(\w+)</span> ([^<]+)</h2>', page)
    assert listed == headed
    expected = {section.id for _, sections in GROUPS for section in sections if section.shown(report)}
    assert {name for name, _, _ in listed} == expected
    assert "standing" not in expected
    letters = [number[0] for _, number, _ in listed]
    assert letters == sorted(letters)
    assert set(letters) == set("ABCDEFGHIJ"[: len(set(letters))])


def test_every_template_stands_in_the_table() -> None:
    """A section is one template and one line; what is left are pages and their style."""
    folder = resources.files("pipeline.report") / "templates"
    files = {file.name for file in folder.iterdir()}
    told = {section.template for _, sections in GROUPS for section in sections}
    assert files - told == {"report.html", "report.css", "contact.html"}
    ids = [section.id for _, sections in GROUPS for section in sections]
    assert len(set(ids)) == len(ids)
    assert {caution.beside for caution in CAUTIONS} <= {"", *ids}


def test_the_figures_are_those_of_the_relief() -> None:
    """D = 1000, L = 300, d = 100: V = 650, s = 0.84615; a floor 65 below the eye rises 1 in 10 (h / V)."""
    relief = Relief(eye=(0.0, -1000.0, 70.0), apron=0.0, apparent_depth=300.0, built_depth=100.0)
    hall = Hall(scale=40.0, width=260.0, height=130.0, depth=300.0, floor=5.0, apron=0.0, front=0.0)
    found = {figure.name: figure for figure in figures(relief, hall)}
    assert found["Vanishing depth"].value == "650.0 mm"
    assert found["Back scale"].value == "0.8462"
    assert found["Apparent depth"].note.startswith("12.00 m at 1:40")
    assert found["Floor rises"].note == "1 in 10.00."
    assert found["Left wall leans"].value == "11.3\N{DEGREE SIGN}"  # atan(130 / 650) = 11.310
    assert found["Ceiling falls"].value == "5.7\N{DEGREE SIGN}"  # atan(65 / 650) = 5.711
    same = Relief(eye=(0.0, -1000.0, 70.0), apron=0.0, apparent_depth=100.0, built_depth=100.0)
    assert {f.name: f.value for f in figures(same, hall)}["Vanishing depth"] == "none"


def test_the_only_script_is_our_own_and_asks_nobody(report: ReportData) -> None:
    """A page with the view to walk round in has one script, our file to the letter, which knows no way to fetch."""
    told = ModelView(told='{"parts":[]}', shapes="AAAA", count=0, lines=True)
    page = render_page(replace(report, model=told)).decode()
    scripts = re.findall(r"<script[^>]*>\n(.*?)</script>", page, re.S)
    assert [one.rstrip() for one in scripts] == [viewer().rstrip()]
    for way in (
        "fetch(",
        "XMLHttpRequest",
        "import",
        "WebSocket",
        "eval(",
        "innerHTML",
        "document.cookie",
        "localStorage",
    ):
        assert way not in scripts[0]
    assert "<script" not in render_page(report).decode()


@pytest.mark.parametrize("title", [HOSTILE, 'a"; } body { display: none } /*', "Zisterne für Regen \\ \N{EM DASH}\n"])
def test_the_running_head_is_text_whatever_the_title(report: ReportData, title: str) -> None:
    """In the style sheet it is one string of letters, digits and escapes (CSS Syntax 3, 4.3.7) that reads back."""
    style = render_page(replace(report, title=title)).decode().split("<style>")[1].split("</style>")[0]
    found = re.findall(r'@top-left \{ content: "((?:[a-zA-Z0-9]|\\[0-9a-f]+ )*)"; font', style)
    assert [re.sub(r"\\([0-9a-f]+) ", lambda code: chr(int(code[1], 16)), one) for one in found] == [title]


def test_the_page_is_the_same_bytes_twice(report: ReportData) -> None:
    """Same input, same bytes: no date, no order by chance."""
    assert render_page(report) == render_page(report)
