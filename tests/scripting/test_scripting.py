"""Scenes as values: the same as the commands give, and shapes that agree with the files."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, ClassVar

import ezdxf
import numpy as np
import pytest
import shapely
import shapely.ops
import trimesh

import pipeline
from pipeline.cli import main

SCENE = """\
format = 1
title = "A <small> room"
box = { width = 120, height = 90, depth = 50 }
eye = { distance = 350, height = 45 }
space = { scale = 32, depth = 5.0 }
floor = { cover = "flags" }
covers.flags = { pattern = "flags", length = 0.6, width = 0.4, joint = 0.01 }
openings = [{ name = "door", wall = "back", at = 1.7, width = 0.9, height = 1.6, head = "round" }]
columns = [{ name = "pier", at = [[1.0, 2.5]], diameter = 0.4 }]
materials.card = { thickness = 1.5, process = "laser", kerf = 0.1, sheet = [300, 200] }
"""


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The scene's file, in a folder of its own."""
    folder = tmp_path_factory.mktemp("scripting")
    (folder / "small.toml").write_text(SCENE)
    return folder / "small.toml"


@pytest.fixture(scope="module")
def build(path: Path) -> pipeline.BuiltScene:
    """The scene as it is."""
    return pipeline.load(path).build()


def test_a_script_gets_the_bytes_that_the_command_writes(path: Path, build: pipeline.BuiltScene) -> None:
    """One way to build, two doors to it."""
    out = path.parent / "by-command"
    assert main(["build", str(path), "--out", str(out), "--quiet"]) in (0, 1)
    written = {file.relative_to(out / "small").as_posix(): file.read_bytes() for file in (out / "small").rglob("*.*")}
    assert written == dict(build.files)
    folder = build.write(path.parent / "by-script")
    assert {file.relative_to(folder).as_posix(): file.read_bytes() for file in folder.rglob("*.*")} == written


def test_outlines_are_those_of_the_drawing(build: pipeline.BuiltScene) -> None:
    """Read back with ezdxf: the same area within a curve tolerance along the border, holes taken out."""
    wall = build.parts["back-wall"]
    document = ezdxf.read(io.StringIO(wall.files["dxf"].decode()))
    rings = []
    for layer in ("OUTLINE", "HOLES"):
        for entity in document.modelspace().query(f'*[layer=="{layer}"]'):
            made = ezdxf.path.make_path(entity)
            rings.append(shapely.LineString([(p.x, p.y) for p in made.flattening(0.001)]))
    cells = list(shapely.ops.polygonize(shapely.union_all(rings)))
    area = max(cell.area for cell in cells)
    assert wall.outline.area == pytest.approx(area, abs=0.02 * wall.outline.length)


def test_solids_stand_in_the_box_and_are_closed(build: pipeline.BuiltScene) -> None:
    """The panel's solid has the area of its sheet times its thickness, as its edges are bevelled by little; all are
    inside the box."""
    for part in build.parts.values():
        solid = part.solid()
        assert isinstance(solid, trimesh.Trimesh)
        assert solid.is_watertight
        low, high = solid.bounds
        assert (low >= np.array([-60, 0, 0]) - 1e-6).all()
        assert (high <= np.array([60, 50, 90]) + 1e-6).all()
    floor = build.parts["floor"]
    assert floor.solid().volume == pytest.approx(floor.outline.area * 1.5, rel=0.1)


def test_parts_show_their_drawing_and_prints_say_that_they_have_none(build: pipeline.BuiltScene) -> None:
    """A notebook asks every object for what it can show."""
    svg = build.parts["floor"]._repr_svg_()
    assert svg is not None
    assert ET.fromstring(svg).tag.endswith("svg")
    pier = build.parts["pier"]
    assert pier._repr_svg_() is None
    with pytest.raises(TypeError, match="is a print and has no outline"):
        _ = pier.outline


def test_a_build_shows_itself_with_its_names_escaped(build: pipeline.BuiltScene) -> None:
    """Titles come from anybody, and nothing is fetched."""
    shown = build._repr_html_()
    assert "A &lt;small&gt; room" in shown
    assert "<small>" not in shown

    class Sources(HTMLParser):
        found: ClassVar[list[str]] = []

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            self.found.extend([value or "" for name, value in attrs if name in ("src", "href")])

    parser = Sources()
    parser.feed(shown)
    assert parser.found
    assert all(source.startswith("data:image/png;base64,") for source in parser.found)


def test_values_set_over_a_scene_leave_its_file_and_itself_alone(path: Path, build: pipeline.BuiltScene) -> None:
    """And the build is that of ``--set``."""
    before = path.read_bytes()
    scene = pipeline.load(path)
    other = scene.setting({"eye.distance": 300, "make.paper": "A3"}).build()
    assert other.relief["eye_distance"] == 300
    assert scene.build().relief == build.relief
    assert path.read_bytes() == before
    verdicts = {one.id: one.verdict for one in other.compare(build)}
    assert verdicts["left-wall"] == "recut"


def test_a_sweep_gives_every_combination(path: Path) -> None:
    """The last key runs fastest."""
    scene = pipeline.load(path)
    swept = [
        (values, one.relief["eye"]) for values, one in scene.sweep({"eye.distance": [300, 340], "eye.height": [40, 50]})
    ]
    expected = [(d, h) for d in (300, 340) for h in (40, 50)]
    assert [(-eye[1], eye[2]) for _, eye in swept] == expected
    assert [tuple(values.values()) for values, _ in swept] == expected


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"eye.height": [40], "eye.distanse": [300, 340]}, "eye.distanse: unknown key"),
        ({"eye.distance": [300, 0]}, "0 is not a length above zero"),
        ({"eye.distance": 300}, "300 is one value; give several"),
        ({"eye.distance": "300"}, "'300' is one value; give several"),
    ],
)
def test_a_sweep_that_cannot_be_is_refused_at_the_call(path: Path, values: dict[str, Any], said: str) -> None:
    """Not at its first or its hundredth build."""
    with pytest.raises(pipeline.InputError, match=re.escape(said)):
        pipeline.load(path).sweep(values)


def test_depths_and_goals_agree_with_each_other(path: Path) -> None:
    """A back wall as wide as it is at an eye distance is found at that distance."""
    scene = pipeline.load(path).setting({"space.depth": 5.0})
    (choice,) = scene.depths([420.0])
    sought = scene.seek("back_width", choice.back_width)
    assert min(abs(one.distance - 420.0) for one in sought.met) < 1e-3


def test_parts_marked_as_cut_are_remembered(path: Path, build: pipeline.BuiltScene) -> None:
    """As by the command, which then lists them."""
    out = path.parent / "marked"
    build.write(out)
    build.mark_as_cut("floor", out=out)
    assert [file.stem for file in (out / ".foreshorten/cut/small").glob("*.json")] == ["floor"]
    with pytest.raises(pipeline.InputError, match="no such part: flor"):
        build.mark_as_cut("flor", out=out)


def test_test_pieces_and_a_layout_come_from_a_script_too(path: Path) -> None:
    """Both as the commands make them."""
    scene = pipeline.load(path)
    assert re.search(rb"LWPOLYLINE", scene.coupon("card")[".dxf"])
    with pytest.raises(pipeline.InputError, match="there is no material"):
        scene.coupon("cart")
    layout = scene.nest(seconds=0)
    try:
        assert layout.name == "small.layout.json"
        assert scene.build().failed == 0
        layout.write_text("{}")
        with pytest.raises(pipeline.InputError, match=r"small\.layout\.json"):
            scene.build()
    finally:
        layout.unlink()


def test_a_mesh_goes_through_the_relief_alone(path: Path) -> None:
    """A cube of 0.5 m, closed before, is closed after, and shorter in depth than in width."""
    cube = trimesh.creation.box((1, 1, 1))
    file = path.parent / "cube.stl"
    file.write_bytes(cube.export(file_type="stl"))
    made = pipeline.load(path).warp(file, size=0.5, at=[0.0, 2.5, 0.25])
    solid = made.solid()
    assert solid.is_watertight
    width, depth, _ = solid.extents
    assert depth < width
    assert len(made.stl) == 84 + 50 * len(solid.faces)
    with pytest.raises(pipeline.InputError, match="allowed"):
        pipeline.load(path).warp(file, unit="furlong")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("format = 1\n", "small.toml:1"),
        (SCENE.replace("depth = 50", "depth = -50"), "not a length above zero"),
        (SCENE.replace("height = 45", "height = 89.5"), "small.toml:4"),
    ],
    ids=["nothing", "minus", "high"],
)
def test_what_is_wrong_comes_as_one_error(tmp_path: Path, text: str, said: str) -> None:
    """With file, line and what is allowed, whether reading or measuring finds it."""
    (tmp_path / "small.toml").write_text(text)
    with pytest.raises(pipeline.InputError, match=re.escape(said)):
        pipeline.load(tmp_path / "small.toml").build()


def test_the_package_offers_its_names_and_no_others() -> None:
    """Names come late, so that the command line starts without them."""
    assert dir(pipeline) == sorted(pipeline.__all__)
    assert pipeline.begin("Attic").startswith("# A scene for foreshorten")
    with pytest.raises(AttributeError, match="no attribute 'lode'"):
        _ = pipeline.lode


def test_what_a_plain_session_prints_is_one_line(path: Path, build: pipeline.BuiltScene) -> None:
    """A name typed at a prompt is echoed; the bytes of every file would flood the screen."""
    scene = pipeline.load(path).setting({"eye.distance": 360})
    assert repr(scene) == f"<scene {path}, eye.distance = 360>"
    passed = f"{len(build.parts)} parts, {len(build.files)} files"
    assert repr(build).startswith(f"<built scene small: {passed}; checks: ")
    assert repr(build.parts["floor"]) == "<panel floor of card>"
    assert repr(build.parts["pier"]).startswith("<print pier")
    assert all(len(repr(one)) < 300 for one in build.compare(build))


def test_a_part_that_is_not_there_is_told_with_those_that_are(build: pipeline.BuiltScene) -> None:
    """As ``foreshorten cut`` tells it; a mapping still raises what mappings raise."""
    with pytest.raises(KeyError, match="no such part: flor; did you mean floor"):
        _ = build.parts["flor"]
    with pytest.raises(KeyError, match=r"there are .*back-wall"):
        _ = build.parts["zzzzzz"]
    assert build.parts.get("flor") is None


@pytest.mark.parametrize(
    ("wishes", "said"),
    [
        ({"box": (180, 150)}, "box: (180, 150) is not 3 lengths"),
        ({"box": "180x150x85"}, "box: '180x150x85' is not 3 lengths"),
        ({"kind": "cave"}, "kind: there is no 'cave'; choose from brick"),
        ({"thickness": "2 mm"}, "thickness: '2 mm' is not a length in mm"),
        ({"thickness": 40}, "is filled by sheets of 40 mm"),
        ({"boks": (180, 150, 85)}, "begin takes no boks; it takes title, box"),
    ],
    ids=["two sides", "text", "kind", "unit", "thick", "name"],
)
def test_a_starter_scene_that_cannot_be_is_refused_in_a_script_too(wishes: dict[str, object], said: str) -> None:
    """With what the command says, not a trace from the inside."""
    with pytest.raises(pipeline.InputError, match=re.escape(said)):
        pipeline.begin("Attic", **wishes)


def test_a_depth_in_millimetres_is_told_as_a_depth(tmp_path: Path) -> None:
    """The covers of a room 5 km deep need too many guides; the depth is at fault, not the cover."""
    flags = SCENE.replace("length = 0.6, width = 0.4", "length = 0.1, width = 0.1")
    (tmp_path / "deep.toml").write_text(flags)
    with pytest.raises(pipeline.InputError, match=r"space\.depth=5000: space\.depth: a room of 5,000 m.*bare number"):
        pipeline.load(tmp_path / "deep.toml").setting({"space.depth": 5000}).build()
    tiny = flags.replace("joint = 0.01", "joint = 0.0001").replace(
        "length = 0.1, width = 0.1", "length = 0.001, width = 0.001"
    )
    (tmp_path / "fine.toml").write_text(tiny)
    with pytest.raises(pipeline.InputError, match=r"covers\.flags: with it the covers"):
        pipeline.load(tmp_path / "fine.toml").build()
