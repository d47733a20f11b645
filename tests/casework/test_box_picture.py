"""The picture of the box."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from pipeline.report.casework_picture import HEIGHT, SAWN, WIDTH, box_picture

from .boxes import EDGES, box_of, planned


@pytest.mark.parametrize("edge", EDGES)
def test_the_saw_line_is_dark_on_the_shut_box_and_gone_from_the_open_one(edge: str) -> None:
    """What the saw takes has a hue of its own, redder than any board: a band of it on the left view, none on the right.
    The lines along the band take as much from a wide one as from a narrow one, so equal steps of it add equal areas,
    but for the few millimetres by which the whole box grows and is drawn smaller."""

    def bands(saw: float) -> list[int]:
        picture = np.asarray(Image.open(io.BytesIO(box_picture(planned(box_of(saw=saw, hinge=edge))))), dtype=float)
        assert picture.shape == (HEIGHT, 2 * WIDTH, 3)
        assert SAWN[0] / SAWN[1] == pytest.approx(1.8)
        red = picture[..., 0] / picture[..., 1] > 1.6
        return [int(red[:, :WIDTH].sum()), int(red[:, WIDTH:].sum())]

    (four, none), (seven, nothing), (ten, nought) = bands(4.0), bands(7.0), bands(10.0)
    assert none == nothing == nought == 0
    assert four > 500
    assert ten - seven == pytest.approx(seven - four, rel=0.15)
