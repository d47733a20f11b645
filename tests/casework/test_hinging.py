"""The hinge line, the lid's swing, and the frame of the scene in the lid."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from .boxes import EDGES, box_of, boxes, planned


def turned(points: np.ndarray, line: np.ndarray, angle: float | np.ndarray) -> np.ndarray:
    """Return points turned about a line by an angle in radians (Rodrigues)."""
    axis = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
    off = points - line[0]
    along = np.outer(off @ axis, axis)
    across = off - along
    angle = np.atleast_1d(angle)[:, None]
    out: np.ndarray = line[0] + along + np.cos(angle) * across + np.sin(angle) * np.cross(axis, across)
    return out


@given(st.floats(0.1, 19.9), st.sampled_from(EDGES))
def test_what_stands_out_just_clears_the_far_side_of_the_lid(out: float, edge: str) -> None:
    """Swung by hand: the inner edge of the lid's far rim, turned about the hinge line, just meets the tip of a rod that
    stands out as near to the far side as ``kept_clear`` says."""
    box = box_of(hinge=edge)
    hinging = planned(box).hinging
    across = {"left": 1, "right": -1}.get(edge, 0) * np.array([1.0, 0, 0])
    across = across + {"bottom": 1, "top": -1}.get(edge, 0) * np.array([0, 0, 1.0])
    middle = hinging.line.mean(axis=0)
    rim = middle + hinging.reach * across
    assert np.abs(rim @ across - (middle @ across)) == pytest.approx(6 + (180 if edge in ("left", "right") else 150))
    tip = rim - hinging.kept_clear(out) * across + [0, -out, 0]
    turns = np.linspace(0, np.pi, 20001)
    path = np.concatenate([turned(rim[None], hinging.line, sign * turns) for sign in (-1, 1)])
    assert np.linalg.norm(path - tip, axis=1).min() < 0.02


@pytest.mark.parametrize("edge", EDGES)
def test_the_lids_scene_stands_upright_once_it_is_swung_open(edge: str) -> None:
    """Swung by half a turn about the hinge line, after the kerf is closed, the frame of a scene in the lid is that of a
    scene in the box but for where it stands: right, depth and up agree, and its opening lies in the same plane."""
    shell = planned(box_of("lid", hinge=edge)).shell
    hinging = planned(box_of("box", hinge=edge)).hinging
    shell_from_lid = np.linalg.inv(shell.built_from_shell)
    frame = (shell_from_lid @ np.array([[0, 0, 0, 1], [1, 0, 0, 1], [0, 1, 0, 1], [0, 0, 1, 1]], dtype=float).T).T[
        :, :3
    ]
    swung = turned(frame + np.array([0, shell.make.saw, 0]), hinging.line, np.pi)
    assert swung[1:] - swung[0] == pytest.approx(np.eye(3), abs=1e-12)
    assert swung[0][1] == pytest.approx(0.0)


@given(st.data())
def test_hinges_sit_on_the_line_and_their_screws_in_both_halves(data: st.DataObject) -> None:
    """The middles lie on the hinge line, symmetrically, and screws meet the sides of the lid."""
    casework = planned(data.draw(boxes("mitre", "laid on")))
    hinging, make = casework.hinging, casework.shell.make
    ends, middles = hinging.line, hinging.middles
    assert len(middles) == (3 if np.linalg.norm(ends[1] - ends[0]) > 400 else 2)
    assert middles.mean(axis=0) == pytest.approx(ends.mean(axis=0))
    assert np.linalg.norm(middles[0] - ends[0]) == pytest.approx(hinging.from_ends)
    assert 0 < hinging.screws < make.room
