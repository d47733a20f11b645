"""Angles along groins and wall arches, against closed forms."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from pipeline.build import make
from pipeline.parts.web_angles import tell_web_angles
from pipeline.report.manifest import joint_entries
from tests.vault.halls import WARPED, bend_all, hall, identity, webs


def test_at_the_groins_of_two_half_cylinders_the_angle_runs_from_straight_to_three_quarters() -> None:
    """Normals (cos f, 0, sin f) and (0, cos f, sin f): th = 180 + acos(sin^2 f), from 180 at the crown to 270."""
    _, told = tell_web_angles((), tuple(bend_all(webs(hall(80.0, 80.0)), identity(80.0))))
    groins = [edge for bent in told for edge in bent.edges if edge.against in {other.id for other in told}]
    assert len(groins) == 8
    for edge in groins:
        assert edge.angle_deg == pytest.approx((180.0, 270.0), abs=0.01)


def test_through_the_relief_both_webs_tell_one_angle_of_their_groin() -> None:
    """Planes go to planes: at a springing th is that between two upright planes carried through the relief."""
    said = webs(hall(140.0, 250.0), bays=2)
    _, told = tell_web_angles((), tuple(bend_all(said, WARPED)))
    angles = {(bent.id, edge.against): edge.angle_deg for bent in told for edge in bent.edges}
    left, front = (next(web.id for web in said if web.id.endswith(f"1-web-{side}")) for side in ("left", "front"))
    assert angles[left, front] == pytest.approx(angles[front, left], abs=1e-3)
    carry = np.linalg.inv(WARPED.built_from_imagined).T  # along the hall x = -70, across it y = 0
    one, other = (carry @ np.array(plane) for plane in ((1.0, 0.0, 0.0, 70.0), (0.0, 1.0, 0.0, 0.0)))
    cosine = one[:3] @ other[:3] / np.linalg.norm(one[:3]) / np.linalg.norm(other[:3])
    widest = angles[left, front]
    assert widest is not None
    assert widest[1] == pytest.approx(180 + math.degrees(math.acos(cosine)), abs=0.05)


def test_walls_tell_the_angles_of_their_arches_and_the_manifest_has_each_pair_once() -> None:
    """The same range on the wall's curved edges as on the web's, and in joints[]; groins stand there too."""
    evidence = make((Path(__file__).parents[2] / "scenes" / "cistern.toml").read_bytes())
    wall = next(panel for panel in evidence.panels if panel.id == "left-wall")
    web = next(bent for bent in evidence.bents if bent.id == "vault-bay-1-web-left")
    (own,) = [edge.angle_deg for edge in web.edges if edge.against == wall.id]
    assert own is not None
    assert {edge.angle_deg for edge in wall.edges if edge.against == web.id} == {own}
    entries = {tuple(entry["parts"]): entry for entry in joint_entries((*evidence.panels, *evidence.bents))}
    assert entries["left-wall", web.id]["angle_deg"] == pytest.approx(own, abs=1e-5)
    low, high = entries["vault-bay-1-web-front", web.id]["angle_deg"]
    assert 180 <= low < high < 300


def test_the_wedge_behind_a_wall_arch_is_told_where_both_edges_are_square() -> None:
    """Beyond 90 degrees square edges part behind the visible line by 180 less the angle; up to 90 they do not."""
    scene = (Path(__file__).parents[2] / "scenes" / "cistern.toml").read_bytes()
    evidence = make(scene, (("make.edges", "square"),))
    entries = {tuple(entry["parts"]): entry for entry in joint_entries((*evidence.panels, *evidence.bents))}
    entry = entries["left-wall", "vault-bay-1-web-left"]
    low, high = entry["angle_deg"]
    assert low < 90 < high
    assert entry["wedge_deg"] == pytest.approx([180 - high, 90])
