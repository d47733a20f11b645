"""From which depth on joints vanish, against the relief worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from pipeline.checks import relief_joints
from tests.brick_relief.rooms import joints, made, raised_print, text
from tests.checks.holding import hold
from tests.scene_text import changed

L, BUILT, EYE = 250.0, 77.5, 420.0
"""mm: 12 m at 1:48; box less back gap, sheet and clearance; eye before the opening."""
A = (L - BUILT) / (L * (EYE + BUILT))
B = BUILT * (L + EYE) / (L * (EYE + BUILT))
HALF = (180.0 - 2 * 3.5) / 2
LEAN = math.atan(HALF * A / B)
"""Of the side walls: they aim at the vanishing point b / a behind the opening."""
JOINT, RELIEF = 20 / 48, 50 / 48


def wider(scene: str, detail: float) -> str:
    """Return the scene for a printer that shows ``detail`` mm."""
    return scene + f"\n[make.printer]\ndetail = {detail}\n"


def depth_where(w: float) -> float:
    """Return the built depth of a place with this w = 1 + a y: y' = b y / w."""
    return B * (w - 1) / A / w


def test_joints_across_a_wall_vanish_where_the_depth_is_squeezed_that_far() -> None:
    """Along the wall a joint is b j / (w1 w2 cos lean) wide, w1 and w2 at its edges, half a joint from its middle."""
    finding = joints(made(wider(text("left"), 0.15)))["left-wall"]
    product = B * JOINT / (0.15 * math.cos(LEAN))
    # (w - e) (w + e) = product, e half a joint as w counts it.
    w = math.sqrt(product + (A * JOINT / 2) ** 2)
    assert f"the joints are narrower than 0.15 mm from {depth_where(w):.1f} mm deep on" in finding.message
    assert finding.status == "warn"


def test_units_vanish_where_across_is_squeezed_that_far() -> None:
    """A unit stands out by r / w across the hall, and less by the wall's lean square to the wall."""
    finding = joints(made(wider(text("left"), 0.9)))["left-wall"]
    w = RELIEF * math.cos(LEAN) / 0.9
    assert f"the units stand out by less than 0.9 mm from {depth_where(w):.1f} mm deep on" in finding.message


def test_on_the_back_wall_units_stand_out_by_the_local_squash() -> None:
    """b / w^2, taken between the back wall and the tops: b r / (w1 w2) (Burmester 1883)."""
    finding = joints(made(wider(text("back"), 0.2)))["back-wall"]
    w1, w2 = 1 + A * L, 1 + A * (L - RELIEF)
    width = JOINT / w1
    height = B * RELIEF / (w1 * w2)
    assert (
        f"stand out by {height:.2f} to {height:.2f} mm between joints of {width:.2f} to {width:.2f} mm"
        in finding.message
    )
    assert finding.value == pytest.approx(min(height, width), rel=1e-9)
    assert finding.status == "pass"


def test_what_shows_everywhere_passes() -> None:
    """Everything above the printer's detail."""
    assert {f.status for f in joints(made(wider(text("left", "back", "floor", "ceiling"), 0.05))).values()} == {"pass"}


def test_filament_shows_less_than_resin() -> None:
    """Left out, the detail is 0.2 mm for resin and 0.4 mm, the nozzle, for filament."""
    limits = [
        joints(made(text("left") + f'\n[make.printer]\nprocess = "{process}"\n'))["left-wall"].limit
        for process in ("resin", "filament")
    ]
    assert limits == [0.2, 0.4]


def test_a_wall_that_folds_at_the_apron_stays_a_panel_and_says_so() -> None:
    """A print cannot be bent; the back wall does not fold."""
    evidence = made(changed(text("left", "back"), "depth = 12.0", "depth = 12.0\napron = 6"))
    found = joints(evidence)
    assert found["left-wall"].status == "warn"
    assert "folds at the apron's end" in found["left-wall"].message
    assert [panel.id for panel in evidence.panels if panel.face.cover] == ["left-wall"]
    assert raised_print(evidence, "back-wall")[1].units > 100


def test_guides_alone_are_not_measured() -> None:
    """Nothing is printed of them."""
    assert joints(made(changed(text("left"), "relief = 0.05", 'relief = 0.05\nrelief_as = "guides"'))) == {}


def test_a_vault_whose_cover_is_raised_stays_smooth_and_says_so() -> None:
    """Every web is named, with what to do; a cover of guides alone is meant so."""
    vault = '\n[vault]\nform = "barrel"\nspringing = 3.0\nrise = 2.0\ncover = "raised"\nwebs = "print"\n'
    evidence = made(text("left", more=vault))
    webs = {web.id for web in evidence.imagined.webs}
    said = joints(evidence)
    assert webs
    assert webs < said.keys()
    assert all(
        said[web].status == "warn" and "only units of flat faces are raised" in said[web].message for web in webs
    )
    assert "warn" in hold(evidence, (relief_joints.CHECK,))
    plain = replace(evidence.imagined, webs=tuple(replace(web, cover=None) for web in evidence.imagined.webs))
    assert webs.isdisjoint(joints(replace(evidence, imagined=plain)))
