"""Passages and niches: where their faces lie, what they are cut to, and that they fit."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.checks import bare_box, unseen
from pipeline.checks.evidence import Evidence
from pipeline.elements.problems import Problem
from pipeline.geometry import frames
from pipeline.geometry.meshes import signed_volume
from pipeline.parts.model import Panel
from pipeline.scene.problems import SceneFileError

from ..scene_text import PLAIN, changed
from .rooms import BENT, FEET_APART, TRUE, built, hole

COMMON_MM3 = 1e-3
"""As the check's: mitred faces that lie on one another share rounding only."""


LANE_AT_TWO = "[[openings]]" + changed(FEET_APART.split("[[openings]]")[1], "at = 9.0", "at = 2.0")


@pytest.fixture(scope="module")
def flat() -> Evidence:
    return built(PLAIN + FEET_APART)


@pytest.fixture(scope="module")
def bent() -> Evidence:
    return built(PLAIN + BENT)


def panel(evidence: Evidence, part: str) -> Panel:
    return next(panel for panel in evidence.panels if panel.id == part)


def assert_fits(evidence: Evidence) -> None:
    """No two bodies share room, and all lie in the box; by manifold3d, without the checks."""
    for a, b in combinations(evidence.bodies.values(), 2):
        assert (a ^ b).volume() < COMMON_MM3
    width, height, depth = evidence.room.box
    for body in evidence.bodies.values():
        low_x, low_y, low_z, high_x, high_y, high_z = body.bounding_box()
        assert min(low_x + width / 2, low_y, low_z) > -1e-3
        assert max(high_x - width / 2, high_y - depth, high_z - height) < 1e-3


@pytest.mark.parametrize(
    "part", ["lane-floor", "lane-far-wall", "shrine-far-wall", "far-door-end", "far-door-left-wall", "far-door-floor"]
)
def test_corners_lie_on_the_rays_to_the_imagined_ones(flat: Evidence, part: str) -> None:
    """The ray law: eye, built and imagined point are on one line; round the corner as in the hall."""
    face = panel(flat, part)
    host = np.array([edge.curve.start for edge in face.region.outline])
    imagined = frames.apply(face.face.imagined_from_host, host)
    drawn = frames.apply(face.leaves[0].flat_from_host, host)
    made = frames.apply(face.leaves[0].built_from_flat, np.column_stack([drawn, np.zeros(len(drawn))]))
    eye = np.array(flat.room.relief.eye)
    away = np.cross(made - eye, imagined - eye) / np.linalg.norm(imagined - eye, axis=1)[:, None]
    assert np.abs(away).max() < 1e-9


def test_flat_passages_fit(flat: Evidence) -> None:
    """Panels round outward corners are undercut, so nothing overlaps and nothing leaves the box."""
    assert_fits(flat)


def test_printed_linings_fit(bent: Evidence) -> None:
    """They stand behind the wall's sheet, with their play."""
    assert_fits(bent)
    assert {part.id for part in bent.prints} == {"vaulted-lane-lining", "apse-lining"}


def test_a_lining_is_a_tube_and_a_niche_a_cup(bent: Evidence) -> None:
    """Genus 1 and 0: a passage is open at both ends, a niche at one."""
    assert bent.bodies["vaulted-lane-lining"].genus() == 1
    assert bent.bodies["apse-lining"].genus() == 0


def test_without_relief_faces_have_their_own_measures() -> None:
    """1.6 x 2.7 x 0.5 m at 1:48, in mm: metres x 1000 / 48."""
    evidence = built(TRUE + changed(LANE_AT_TWO, "length = 1.2", "length = 0.5"))
    wall = panel(evidence, "lane-far-wall")
    assert wall.area == pytest.approx(0.5 * 2.7 * (1000 / 48) ** 2, rel=1e-9)
    assert panel(evidence, "lane-floor").area == pytest.approx(0.5 * 1.6 * (1000 / 48) ** 2, rel=1e-9)
    angles = {edge.against: edge.angle_deg for edge in wall.edges}
    assert angles["right-wall"] == pytest.approx((270, 270))
    assert angles["lane-floor"] == pytest.approx((90, 90))
    assert_fits(evidence)


def test_the_hole_is_cut_back_by_the_sheet_that_meets_it() -> None:
    """Round a right outward corner of equal sheets the undercut is their thickness: 45 degrees (TRUE, foam of 3 mm)."""
    evidence = built(TRUE + LANE_AT_TWO)
    edge = next(edge for edge in panel(evidence, "right-wall").edges if edge.against == "lane-far-wall")
    assert edge.bevel_deg == pytest.approx((-45, -45))


def test_what_stands_behind_the_back_wall_settles_the_built_depth(flat: Evidence) -> None:
    """The end's sheet of 3 mm stops 4.5 mm (gap and clearance) before the back of the box at 85 mm."""
    assert flat.bodies["far-door-end"].bounding_box()[4] == pytest.approx(85 - 4 - 0.5, abs=1e-6)
    assert flat.room.relief.built_depth < 77.5


BEHIND = 85 - 4 - 0.5
"""Depth of the box less gap and clearance, mm."""


@pytest.mark.parametrize(
    ("extra", "reach", "thick"),
    [
        ("reveal = 1.2", 1.2, 0.0),
        ('beyond = "niche"\nlength = 0.6', 0.6, 3.0),
        ("reveal = 1.2\n[openings.tracery]\nlights = 1", 1.2, 3.0 + 0.15),
    ],
    ids=["reveal", "niche", "tracery in a reveal"],
)
def test_all_that_stands_behind_the_back_wall_settles_the_built_depth(extra: str, reach: float, thick: float) -> None:
    """What is farthest back ends before the gap and clearance: its imagined end goes through the relief of the hall."""
    evidence = built(PLAIN + hole("flat", extra, wall="back", at=4.2))
    relief = evidence.room.relief
    end = relief.built_y(evidence.room.hall.depth + reach * 1000 / 48)
    back = max(body.bounding_box()[4] for body in evidence.bodies.values())
    assert back <= BEHIND + 1e-6
    assert back > BEHIND - 0.2 if thick == 0.0 else end + thick == pytest.approx(BEHIND, abs=1e-6)
    assert_fits(evidence)


def test_tracery_on_the_back_of_the_back_wall_takes_its_own_thickness() -> None:
    """Wall and tracery are 3 mm each."""
    evidence = built(PLAIN + hole("flat", "[openings.tracery]\nlights = 1", wall="back", at=4.2))
    assert evidence.room.relief.built_depth == pytest.approx(BEHIND - 3 - 3, abs=1e-6)


def test_a_passage_long_enough_shows_no_bare_box(flat: Evidence) -> None:
    """Nine eyes over 40 x 40 mm."""
    assert [finding.status for finding in bare_box.run(flat)] == ["pass"]


def test_a_passage_too_short_is_refused_and_the_length_that_is_allowed_is_enough() -> None:
    """0.05 m is 1 mm, less than the sheet of 3 mm and the mitre take; as long as allowed, nothing bare is seen."""
    short = PLAIN + changed(FEET_APART, "length = 1.2", "length = 0.05")
    problem = refusal(short).problems[0]
    assert problem.path == ("openings", 0, "length")
    needed = float(problem.allowed.split("at least ")[1].split(" m")[0])
    evidence = built(changed(short, "length = 0.05", f"length = {1.01 * needed:.4f}"))
    assert {finding.status for check in (bare_box, unseen) for finding in check.run(evidence)} == {"pass"}
    assert all(signed_volume(piece.body) > 0 for piece in evidence.panels)
    assert_fits(evidence)
    refusal(changed(short, "length = 0.05", f"length = {0.99 * needed:.4f}"))


def test_a_niche_with_square_joints_needs_a_depth_that_leaves_something_of_its_sides() -> None:
    """Square-cut sides begin behind the wall's sheet; mitred ones are as deep at the back of the sheet as in front."""
    text = (
        PLAIN
        + """
[[openings]]
name = "store"
wall = "left"
at = 5.0
width = 1.1
sill = 0.3
height = 2.1
beyond = "niche"
length = 0.15
"""
    )
    assert all(signed_volume(panel.body) > 0 for panel in built(text).panels)
    square = changed(text, "[materials.foam]", '[make]\nedges = "square"\n\n[materials.foam]')
    problem = refusal(square).problems[0]
    assert problem.path == ("openings", 0, "length")
    needed = float(problem.allowed.split("at least ")[1].split(" m")[0])
    enough = built(changed(square, "length = 0.15", f"length = {1.01 * needed:.4f}"))
    assert all(signed_volume(panel.body) > 0 for panel in enough.panels)


def test_what_no_eye_sees_is_left_out_and_listed() -> None:
    """An eye right of the far door stands behind its right wall's plane; from before it both are seen."""
    before = built(PLAIN + FEET_APART)
    aside = built(changed(PLAIN, "height = 78", "height = 78\nright = 60") + FEET_APART)
    assert "far-door-right-wall" not in before.imagined.unseen
    assert "far-door-right-wall" in aside.imagined.unseen
    assert "far-door-right-wall" not in {panel.id for panel in aside.panels}
    assert {finding.part for finding in unseen.run(aside)} == set(aside.imagined.unseen)
    assert {finding.status for finding in unseen.run(aside)} == {"pass"}


SLUICE = """
[[openings]]
name = "overflow"
wall = "right"
at = 2.3
width = 1.4
height = 2.4
head = "round"

[[openings]]
name = "sluice"
wall = "right"
at = 5.6
width = 1.2
sill = 0.45
height = 1.5
beyond = "niche"
length = 0.5
"""


def test_what_is_seen_through_another_hole_is_that_holes_affair() -> None:
    """The niche's back is seen through the bare hole beside it, from behind its missing near wall, not through its own.

    Both that which leaves parts out and the check look through the part's own hole.
    """
    evidence = built(PLAIN + SLUICE)
    assert "sluice-end" in evidence.imagined.unseen
    assert {finding.status for finding in unseen.run(evidence)} == {"pass"}
    seen_too = replace(evidence.imagined, unseen=("sluice-floor",), planes=tuple(
        face for face in (*evidence.imagined.planes, *(p.face for p in evidence.panels)) if face.id == "sluice-floor"
    ))  # fmt: skip
    parts = tuple(panel for panel in evidence.panels if panel.id != "sluice-floor")
    doctored = replace(evidence, imagined=seen_too, panels=parts)
    assert [finding.status for finding in unseen.run(doctored)] == ["fail"]


WIDE = """
[[openings]]
name = "bay"
wall = "right"
at = 6.0
width = 5.0
sill = 0.2
height = 2.7
beyond = "passage"
length = 0.8
"""


@pytest.mark.parametrize("head", ["", 'head = "segmental"\nrise = 0.6\n'])
def test_a_passage_whose_end_is_seen_is_closed(head: str) -> None:
    """Five metres wide and less than one long, one looks out of it; an end closes it, and nothing bare is seen."""
    evidence = built(PLAIN + WIDE + head)
    closing = {"bay-end"} if not head else {"bay-lining"}
    assert closing <= {part.id for part in evidence.parts}
    if head:
        assert evidence.bodies["bay-lining"].genus() == 0
    assert "it is closed" in " ".join(fact.text for fact in evidence.imagined.facts)
    assert {finding.status for finding in bare_box.run(evidence)} == {"pass"}
    assert {finding.status for finding in unseen.run(evidence)} == {"pass"}
    assert_fits(evidence)


def test_an_end_that_no_eye_sees_is_left_out_and_looked_for(flat: Evidence) -> None:
    """The lane runs on out of sight: it has no end, and rays are cast at where that would stand."""
    assert "lane-end" in flat.imagined.unseen
    assert "lane-end" not in {part.id for part in flat.parts}
    assert "lane-end" in {finding.part for finding in unseen.run(flat)}


def test_the_near_wall_of_a_side_passage_looks_away(flat: Evidence) -> None:
    """Its plane faces the back of the box, whatever the eye."""
    assert {"lane-near-wall", "shrine-near-wall"} <= set(flat.imagined.unseen)


def test_a_wider_eye_box_sees_more() -> None:
    """The niche's ceiling, built, meets the eyes' plane 3 mm above the box's bottom: 85 mm under the eye it is seen."""
    tall = built(changed(PLAIN, "height = 78", "height = 78\nbox = [40, 170]") + FEET_APART)
    assert "shrine-ceiling" not in tall.imagined.unseen


def refusal(text: str) -> SceneFileError:
    with pytest.raises(SceneFileError) as caught:
        built(text)
    return caught.value


def test_a_passage_with_nowhere_to_go_says_how_much_room_there_is() -> None:
    """Without relief, walls of 3 mm (0.144 m at 1:48) fill the box to its clearance all along."""
    text = str(refusal(changed(PLAIN, "depth = 12.0", "depth = 3.72") + LANE_AT_TWO))
    assert "nowhere to go" in text
    assert "leaves 0.144 m at its near edge and 0.144 m at its far one" in text


def test_a_niche_as_long_as_is_allowed_fits_and_a_longer_one_is_refused() -> None:
    """The refusal names the greatest length."""
    deep = changed(PLAIN + FEET_APART, "length = 0.5", "length = 5")
    allowed = refusal(deep).problems[0].allowed
    longest = float(allowed.split("at most ")[1].split(" m")[0])
    assert_fits(built(changed(deep, "length = 5", f"length = {0.995 * longest}")))
    refusal(changed(deep, "length = 5", f"length = {1.01 * longest}"))


def test_a_length_without_a_passage_is_refused() -> None:
    """And a passage without a length, and a reveal where the passage's own walls are seen."""
    assert "length" in str(refusal(changed(PLAIN + FEET_APART, 'beyond = "niche"', 'beyond = "light"')))
    assert "length" in str(refusal(changed(PLAIN + FEET_APART, "length = 0.5\n", "")))
    assert "reveal" in str(refusal(changed(PLAIN + FEET_APART, "length = 0.5\n", "length = 0.5\nreveal = 0.1\n")))


def test_parts_that_would_share_a_name_are_refused() -> None:
    """Ids are file names: a column cannot be called as the passage's floor is."""
    column = '\n[[columns]]\nname = "lane floor"\nat = [0, 6.0]\ndiameter = 0.8\n'
    assert "'lane-floor'" in str(refusal(PLAIN + FEET_APART + changed(column, "[0, 6.0]", "[[0, 6.0]]")))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("[materials.foam]", "[right]\nfinish = 0.8\n\n[floor]\nfinish = 0.5\n\n[materials.foam]"),
        ("[materials.foam]", '[make]\nedges = "square"\n\n[materials.foam]'),
        ("depth = 12.0", "depth = 12.0\napron = 12"),
        ("height = 78", "height = 40\nright = 5"),
    ],
    ids=["finished", "square", "apron", "low eye"],
)
def test_passages_fit_however_the_hall_is_made(old: str, new: str) -> None:
    """Finishes, square joints, an apron, another eye: bodies keep apart and in the box, and no bare box is seen."""
    evidence = built(changed(PLAIN, old, new) + FEET_APART)
    assert_fits(evidence)
    assert {finding.status for finding in bare_box.run(evidence)} == {"pass"}
    assert_fits(built(changed(PLAIN, old, new) + BENT))


def test_a_bent_niche_within_its_sheet_is_refused() -> None:
    """Its lining stands behind the sheet of 3 mm, which at 1:48 is 0.14 m and more."""
    shallow = changed(PLAIN + BENT, "length = 0.5", "length = 0.1")
    assert "the wall's sheet of 3 mm" in str(refusal(shallow))


def attempt(text: str) -> tuple[Evidence | None, list[Problem]]:
    try:
        return built(text), []
    except SceneFileError as error:
        return None, list(error.problems)


@given(
    at=st.floats(5.0, 10.0), width=st.floats(0.6, 1.8), sill=st.sampled_from([0.0, 0.3, 1.0]),
    head=st.sampled_from(["flat", "flat", "round"]), beyond=st.sampled_from(["passage", "niche"]),
    length=st.floats(0.25, 1.5), sheet=st.floats(1.0, 3.0), wall=st.sampled_from(["left", "right"]),
    eye=st.floats(-40, 40),
)  # fmt: skip
@settings(max_examples=8, deadline=None)
def test_random_passages_fit_or_are_refused(
    at: float, width: float, sill: float, head: str, beyond: str, length: float, sheet: float, wall: str, eye: float
) -> None:
    """Whatever is asked: a refusal with a reason, or parts that fit and faces left out that nobody sees."""
    text = changed(PLAIN, "thickness = 3.0", f"thickness = {sheet:.3f}")
    text = changed(text, "height = 78", f"height = 78\nright = {eye:.3f}")
    text += (
        f'[[openings]]\nname = "gap"\nwall = "{wall}"\nat = {at:.3f}\nwidth = {width:.3f}\nsill = {sill}\n'
        f'height = 2.2\nhead = "{head}"\nbeyond = "{beyond}"\nlength = {length:.3f}\n'
    )
    evidence, refused = attempt(text)
    assert {problem.path[:2] for problem in refused} <= {("openings", 0)}
    if evidence is None:
        return
    assert_fits(evidence)
    assert "fail" not in {finding.status for finding in unseen.run(evidence)}
