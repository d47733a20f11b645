"""Fingers, and where the saw passes through them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.casework.fingers import lay_fingers

from .boxes import ENDS, box_of, boxes, outlines, planned, written


@pytest.mark.parametrize("ends", ENDS)
@given(data=st.data())
def test_the_saw_passes_inside_one_finger_and_leaves_a_whole_one_on_either_side(ends: str, data: st.DataObject) -> None:
    """The finger under the saw is a finger of the box, the kerf, and a finger of the lid; no boundary of fingers lies
    within a whole finger of the saw line, so a saw that is a hair off leaves no sliver."""
    casework = planned(data.draw(boxes("finger", ends)))
    shell, fingers = casework.shell, lay_fingers(casework.shell)
    widths = -np.diff(fingers.edges)
    box, lid = fingers.widths
    assert widths[fingers.sawn] == pytest.approx(box + shell.make.saw + lid)
    assert np.delete(widths, fingers.sawn) == pytest.approx(
        [box] * fingers.sawn + [lid] * (len(widths) - fingers.sawn - 1)
    )
    assert fingers.edges[fingers.sawn] == pytest.approx(box)
    assert fingers.edges[fingers.sawn + 1] == pytest.approx(-shell.make.saw - lid)
    # Two to a half at the least, or nothing locks.
    assert fingers.sawn >= 1
    assert len(widths) - fingers.sawn >= 2
    assert fingers.edges[[0, -1]] == pytest.approx([shell.back, shell.front])


def test_fingers_are_as_wide_as_asked_as_nearly_as_they_fit() -> None:
    """Sides 85 and 20 mm deep, fingers of 9 asked: 85 / 9 = 9.4 and 20 / 9 = 2.2, so nine and two."""
    assert lay_fingers(planned(box_of(joint="finger", finger=9.0)).shell).widths == pytest.approx((85 / 9, 10.0))


def test_written_fingers_are_those_of_the_neighbours_notches() -> None:
    """On the drawings of left and bottom, laid back edge to back edge, one steps out where the other steps in, at the
    same heights, and both by the board's thickness."""
    casework = planned(box_of(joint="finger", finger=9.0))
    _, files = written(casework)
    (bottom,), (left,) = (outlines(files[f"box-{name}"], "OUTLINE") for name in ("bottom", "left"))

    def profile(outline: np.ndarray, heights: np.ndarray) -> np.ndarray:
        """Return x of the right end at each height."""
        right = outline[outline[:, 0] > outline[:, 0].max() - 7]
        order = right[np.argsort(right[:, 1], kind="stable")]
        return np.array([order[order[:, 1] <= height][-1, 0] for height in heights])

    heights = np.linspace(0.5, 105.7, 400)
    heights = heights[np.abs(heights[:, None] - bottom[:, 1]).min(axis=1) > 1e-3]
    reach = [profile(outline, heights) - outline[:, 0].max() for outline in (bottom, left)]
    assert set(np.unique(np.round(np.concatenate(reach), 6))) == {-6.0, 0.0}
    assert reach[0] + reach[1] == pytest.approx(np.full(len(heights), -6.0))
