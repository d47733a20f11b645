"""Of eye distance, apparent depth and back scale any two give the third."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.relief import solve


@given(st.floats(100, 3000), st.floats(1.01, 20), st.floats(20, 300))
def test_any_two_give_the_third(distance: float, ratio: float, built: float) -> None:
    """s = (D + d) / (D + L), solved for each of the three."""
    apparent = built * ratio
    scale = solve.back_scale(distance, apparent, built)
    assert solve.apparent_depth(distance, scale, built) == pytest.approx(apparent, rel=1e-9)
    assert solve.eye_distance(apparent, scale, built) == pytest.approx(distance, rel=1e-6)


def test_too_shallow_is_said() -> None:
    """L < d has no relief."""
    with pytest.raises(solve.UnsolvableError, match="shallower"):
        solve.back_scale(400, 50, 80)


def test_scale_times_depth_must_exceed_the_built_depth() -> None:
    """D = (s L - d) / (1 - s) needs s L > d."""
    with pytest.raises(solve.UnsolvableError, match="more than the built depth"):
        solve.eye_distance(200, 0.35, 80)


@pytest.mark.parametrize("scale", [0.0, -0.2, 1.2])
def test_scales_outside_are_refused(scale: float) -> None:
    """A back scale lies above 0 and at most at 1."""
    with pytest.raises(solve.UnsolvableError):
        solve.apparent_depth(400, scale, 80)
    with pytest.raises(solve.UnsolvableError):
        solve.eye_distance(400, scale, 80)
