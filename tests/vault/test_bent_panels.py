"""Bent panels: unrolled without stretch, whole bodies, and seen where they should be."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from pipeline.build import build_scene, make
from pipeline.checks import bent_faithful, bent_radius
from pipeline.checks.evidence import Evidence, as_manifold
from pipeline.geometry import curves
from pipeline.geometry.regions import path_of
from pipeline.parts.bent import BentPanel
from pipeline.scene.problems import SceneFileError
from pipeline.sheets.stock import Piece, footprint
from tests.scene_text import PLAIN
from tests.vault.halls import WARPED, bend_all, hall, identity, webs

VAULT = """
[vault]
form = "{form}"
bays = {bays}
springing = 3.0
rise = 2.8
cover = "brick"
material = "card"

[covers.brick]
length = 0.4
height = 0.2
joint = 0.02

[materials.card]
thickness = 0.5
sheet = [300, 200]
min_bend = {bend}
"""
SURFACES = "".join(f'\n[{name}]\nmaterial = "foam"\n' for name in ("left", "right", "back", "floor"))
SURFACES += '\n[front]\nmaterial = "card"\n'


def scene(form: str = "groin", bays: int = 2, bend: float = 1.0) -> str:
    """Return a vaulted room as text."""
    return PLAIN + SURFACES + VAULT.format(form=form, bays=bays, bend=bend)


@pytest.fixture(scope="module")
def evidence() -> Evidence:
    return make(scene().encode())


def borders(panel: BentPanel) -> dict[str, float]:
    """Return the flat length against each neighbour."""
    out: dict[str, float] = {}
    for edge in panel.edges:
        out[edge.against] = out.get(edge.against, 0.0) + edge.length
    return out


def test_a_quarter_cylinder_unrolls_to_the_cosine_its_groin_is() -> None:
    """A half cylinder cut at 45 degrees unrolls to x = r - r cos(s / r); the neutral layer is d longer per radian."""
    panels = bend_all(webs(hall(80.0, 80.0)), identity(80.0), bend_factor=1.0)
    front = next(panel for panel in panels if panel.id.endswith("front"))
    low, high = curves.bounds(path_of(front.cut.outline))
    assert high[1] - low[1] == pytest.approx(math.pi * (40 + 0.5), abs=1e-4)
    plain = next(p for p in bend_all(webs(hall(80.0, 80.0)), identity(80.0)) if p.id.endswith("front"))
    for curve in path_of(plain.cut.outline):
        x, y = curves.evaluate(curve, 0.5)[0]
        assert x == pytest.approx(0, abs=2e-4) or x == pytest.approx(40 - 40 * abs(math.cos(y / 40)), abs=2e-4)


@pytest.mark.parametrize(
    "keys", [{}, {"profile": "pointed", "rise": 80.0}, {"profile": "segmental", "rise": 30.0}, {"form": "barrel"}]
)
def test_with_the_neutral_layer_in_the_visible_face_nothing_is_stretched(keys: dict[str, object]) -> None:
    """Area within 0.01 % and every border as long as the curve it meets: the pattern is the surface laid flat."""
    for panel in bend_all(webs(hall(140.0, 250.0), bays=3, **keys), WARPED):
        flat = curves.signed_area(path_of(panel.cut.outline))
        assert flat == pytest.approx(panel.area, rel=1e-4)
        long = {"": 0.0}
        web, matrix = panel.web, WARPED.built_from_imagined
        for path, ends in ((web.near, web.near_ends), (web.far, web.far_ends)):
            for curve, end in zip(path, ends, strict=True):
                length = curves.length(curves.transform(curve, matrix))
                long[end.against] = long.get(end.against, 0.0) + length
        for against, length in borders(panel).items():
            if against in long:
                assert length == pytest.approx(long[against], rel=1e-4), (panel.id, against)


def test_a_cylinder_bends_to_its_radius() -> None:
    """The cross section of a round vault over a square is a circle."""
    panels = bend_all(webs(hall(80.0, 80.0)), identity(80.0))
    assert [panel.radius for panel in panels] == pytest.approx([40.0] * 4, rel=1e-9)


def test_folds_keep_the_bent_sheet_within_the_tolerance() -> None:
    """A chord of a circle of radius r strays s^2 / (8 r) from it: at most 0.1 mm, and no finer than needed."""
    panel = bend_all(webs(hall(80.0, 80.0)), identity(80.0))[0]
    feet = np.array([ruling.built[0] for ruling in panel.rulings if ruling.fold])
    ends = np.array([panel.web.near[0].start, *feet, panel.web.near[-1].end])
    chords = np.linalg.norm(np.diff(ends, axis=0), axis=1)
    sags = 40 - np.sqrt(40**2 - (chords / 2) ** 2)
    assert sags.max() <= 0.1
    assert sags.max() > 0.07
    assert sorted(ruling.fold for ruling in panel.rulings if ruling.fold) == list(range(1, len(feet) + 1))
    first = next(ruling for ruling in panel.rulings if ruling.fold == 1)
    assert first.built[0, 2] == pytest.approx(63.0 + 40.0, abs=1e-9)


@pytest.mark.parametrize("profile", ["round", "pointed", "segmental"])
def test_bodies_are_whole_and_take_no_common_room(profile: str) -> None:
    """One closed body of genus 0 each, no thicker than the sheet anywhere, and none within another."""
    rise = {"round": 70.0, "pointed": 80.0, "segmental": 30.0}[profile]
    panels = bend_all(webs(hall(140.0, 250.0), bays=2, profile=profile, rise=rise), WARPED)
    bodies = {panel.id: as_manifold(panel.body) for panel in panels}
    for panel in panels:
        body = bodies[panel.id]
        assert (body.genus(), len(body.decompose())) == (0, 1)
        assert 0.9 * 0.5 * panel.area < body.volume() < 1.1 * 0.5 * panel.area
    assert max((a ^ b).volume() for a, b in combinations(bodies.values(), 2)) < 1e-6


def test_a_vaulted_room_passes_every_check() -> None:
    for form in ("groin", "barrel"):
        built = build_scene(scene(form).encode(), "vaulted")
        assert [c for c in built.manifest["checks"] if c["status"] == "fail"] == []
        bent = [part for part in built.manifest["parts"] if part["made_as"] == "bent panel"]
        assert len(bent) == {"groin": 8, "barrel": 2}[form]
        assert all(part["guides"] > 0 and part["rulings"] for part in bent)


def test_pointed_webs_take_up_one_sound_piece_of_their_sheet(evidence: Evidence) -> None:
    """Both borders touch one another in the point, where chords cross; by Green's theorem nothing worth it is lost."""
    for panel in evidence.bents:
        taken = footprint(Piece(id=panel.id, cut=panel.cut, hidden=panel.hidden))
        assert taken.is_valid
        assert taken.area == pytest.approx(curves.signed_area(path_of(panel.cut.outline)), abs=0.01 * taken.length)
        assert abs(taken.bounds[3] - curves.bounds(path_of(panel.cut.outline))[1, 1]) < 1.5, "the point's last bit"


def test_webs_show_where_they_are_imagined(evidence: Evidence) -> None:
    findings = bent_faithful.run(evidence)
    assert [finding.status for finding in findings] == ["pass"] * 8
    assert max(finding.value or 0.0 for finding in findings) < 0.25


def test_a_doctored_drawing_or_manifest_is_found_out(evidence: Evidence) -> None:
    """Half a millimetre at 420 mm is 4 arc minutes."""
    part = evidence.bents[0].id
    entry = evidence.entries[part]
    moved = [{**r, "built": np.add(r["built"], (0.5, 0.0, 0.0)).tolist()} for r in entry["rulings"]]
    wrong = replace(evidence, entries={**evidence.entries, part: {**entry, "rulings": moved}})
    assert bent_faithful.run(wrong)[0].status == "fail"
    other = evidence.entries[evidence.bents[2].id]["files"]["dxf"]
    swapped = replace(evidence, files={**evidence.files, entry["files"]["dxf"]: evidence.files[other]})
    assert bent_faithful.run(swapped)[0].status == "fail"


def test_a_sheet_that_does_not_bend_so_far_fails_and_is_offered_the_print() -> None:
    stiff = make(scene(bend=0).encode())
    assert {finding.status for finding in bent_radius.run(stiff)} == {"fail"}
    assert all('webs = "print"' in finding.message for finding in bent_radius.run(stiff))
    tight = bent_radius.run(make(scene(bend=6).encode()))
    assert {finding.status for finding in tight} == {"pass", "fail"}


@pytest.mark.parametrize(
    ("radius", "bend", "status", "said"),
    [
        (4.0, 4.0, "pass", "bends to 4.00 mm at its tightest; card to 4 mm"),
        (0.4, 0.3, "pass", "bends to 0.40 mm at its tightest; card to 0.3 mm"),
        (3.99, 4.0, "fail", "bends to 3.99 mm at its tightest, but card to 4 mm; take a material that bends farther"),
        (9.0, 0.0, "fail", "bends to 9.00 mm at its tightest, but card does not bend (min_bend = 0); take a material"),
    ],
)
def test_a_sheet_bends_as_far_as_its_material_and_no_farther(
    evidence: Evidence, radius: float, bend: float, status: str, said: str
) -> None:
    """To the very radius; with its figures, part by part."""
    materials = evidence.scene.materials
    card = materials["card"].model_copy(update={"min_bend": bend})
    scene = evidence.scene.model_copy(update={"materials": {**materials, "card": card}})
    bents = tuple(replace(panel, radius=radius) for panel in evidence.bents)
    findings = bent_radius.run(replace(evidence, scene=scene, bents=bents))
    assert [finding.part for finding in findings] == [panel.id for panel in bents]
    for finding in findings:
        assert (finding.id, finding.status) == ("bent-radius", status)
        assert (finding.value, finding.limit, finding.unit) == (radius, bend, "mm")
        assert finding.message.startswith(said)


def test_printed_webs_are_half_as_thick_again_as_the_printers_least_wall() -> None:
    """Their sheet is thinner, and their edges lose a little where there is less room."""
    text = scene().replace('cover = "brick"\nmaterial', 'webs = "print"\ncover = "brick"\nmaterial')
    printed = make(text.encode())
    assert printed.bents == ()
    assert len([part for part in printed.prints if "-web-" in part.id]) == 8
    areas = {panel.id: panel.area for panel in make(scene().encode()).bents}
    for part in printed.prints:
        assert 0.75 * 1.5 * areas[part.id] < part.volume < 1.1 * 1.5 * areas[part.id], part.id


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("rise = 2.8", "rise = 5.0", "vault.rise: springing and rise are"),
        ("rise = 2.8", 'rise = 2.8\nprofile = "pointed"', "vault.rise: a pointed head rises at least half its span"),
        ("bays = 2", "bays = 0", "vault.bays: 0"),
        ("bays = 2", "bays = 2\nrib_width = 7.0\nrib_depth = 0.2", "vault.rib_width: ribs 7 m wide over bays 6 m long"),
        ("depth = 12.0", "depth = 12.0\nheight = 5.0", "space.height: a hall under a vault is as high as the vault"),
        ("[vault]", '[ceiling]\nmaterial = "foam"\n[vault]', "ceiling: there are a ceiling and a vault"),
        ('cover = "brick"', 'cover = "brik"', "vault.cover: there is no cover"),
    ],
)
def test_an_impossible_vault_is_refused_in_plain_words(old: str, new: str, said: str) -> None:
    with pytest.raises(SceneFileError) as caught:
        make(scene().replace(old, new, 1).encode())
    assert any(said in str(problem) for problem in caught.value.problems) or said in str(caught.value)


def test_openings_stay_below_the_vault() -> None:
    hole = '\n[[openings]]\nname = "slit"\nwall = "left"\nat = {at}\nwidth = 0.8\nheight = 4.5\n'
    assert make((scene() + hole.format(at=3.0)).encode()).panels
    with pytest.raises(SceneFileError, match="runs through the vault"):
        make((scene() + hole.format(at=5.9)).encode())


def test_columns_stand_at_every_bay_line_and_reach_the_springing() -> None:
    text = scene() + '\n[[columns]]\nname = "pier"\nstand = "bays"\ndiameter = 0.5\ncapital = 0.3\n'
    prints = make(text.encode()).prints
    assert [part.id for part in prints] == [f"pier-{side}-{n}" for n, side in enumerate(("left", "right") * 3, start=1)]
    for part in prints:
        assert part.skin_imagined.vertices[:, 2].max() == pytest.approx(3 + 3.0 * 1000 / 48, abs=1e-6)
    with pytest.raises(SceneFileError, match="no bay lines"):
        make((PLAIN + '\n[[columns]]\nname = "pier"\nstand = "bays"\ndiameter = 0.5\n').encode())
