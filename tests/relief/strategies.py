"""Random reliefs and points."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]


@st.composite
def reliefs(draw: st.DrawFn) -> Relief:
    """Return reliefs of boxes from a drawer to a chest, eyes from a hand's breadth to across the room."""
    built = draw(st.floats(20, 300))
    apron = draw(st.floats(0, 0.5)) * built
    return Relief(
        eye=(draw(st.floats(-80, 80)), -draw(st.floats(120, 3000)), draw(st.floats(10, 200))),
        apron=apron,
        apparent_depth=max(built, apron + (built - apron) * draw(st.floats(1, 12))),  # rounding may fall below
        built_depth=built,
    )


def points(count: int = 5) -> st.SearchStrategy[Array]:
    """Return ``(count, 3)`` imagined points of a hall, from the opening back."""
    one = st.tuples(st.floats(-150, 150), st.floats(0, 400), st.floats(0, 200))
    return st.lists(one, min_size=count, max_size=count).map(lambda rows: np.array(rows, dtype=np.float64))
