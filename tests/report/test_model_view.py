"""The shapes for the view to walk round in: how fine, and what becomes of too many."""

from __future__ import annotations

import base64
import json

import numpy as np
import pytest

from pipeline.build import make
from pipeline.checks.evidence import Evidence
from pipeline.report import model_view as module
from pipeline.report.gathering import in_order
from pipeline.report.model_view import ModelView, model_view
from tests.scene_text import COVERED


@pytest.fixture(scope="module")
def evidence() -> Evidence:
    return make(COVERED.encode())


def view(evidence: Evidence) -> ModelView | None:
    return model_view(
        evidence.room.relief, evidence.room.box, evidence.cut_parts, evidence.prints, tuple(in_order(evidence))
    )


def test_every_corner_is_kept_to_half_a_step_of_the_grid(evidence: Evidence) -> None:
    """Decoded by hand, part by part, and held against the parts' own bodies."""
    made = view(evidence)
    assert made is not None
    told, shapes = json.loads(made.told), base64.b64decode(made.shapes)
    vertices, _, indices, wide = np.frombuffer(shapes, "<u4", 4)
    assert wide == 0
    index = np.frombuffer(shapes, "<u2", indices, 16)
    grid = np.frombuffer(shapes, "<u2", 3 * vertices, 16 + 2 * int(indices)).reshape(-1, 3)
    points = np.array(told["low"]) + told["step"] * grid
    bodies = {part.id: part.body for part in (*evidence.cut_parts, *evidence.prints)}
    for part in told["parts"]:
        first, number = part["skin"]
        corners = points[index[first : first + number]].reshape(-1, 3, 3)
        # Half a step, and half of the last decimal that the lowest corner is told with.
        assert np.abs(corners - bodies[part["id"]].corners).max() <= told["step"] / 2 + 5.1e-5
    assert told["step"] < 0.01


def test_a_sheet_s_face_looks_where_its_panel_looks(evidence: Evidence) -> None:
    """The third column of the panel's own frame, and a point of its plane."""
    made = view(evidence)
    assert made is not None
    told = {part["id"]: part for part in json.loads(made.told)["parts"]}
    flat = [panel for panel in evidence.panels if len(panel.leaves) == 1]
    assert flat
    for panel in flat:
        frame = panel.leaves[0].built_from_flat
        assert told[panel.id]["face"] == pytest.approx(frame[:3, 2], abs=1e-4)
        assert frame[:3, 2] @ (np.array(told[panel.id]["at"]) - frame[:3, 3]) == pytest.approx(0, abs=1e-3)


def test_too_many_shapes_are_shown_without_lines_and_then_not_at_all(
    evidence: Evidence, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page stays of a size that opens: first the guides go, then the view."""
    whole = view(evidence)
    assert whole is not None
    assert whole.lines
    size = len(base64.b64decode(whole.shapes))
    lines = 6 * sum(part["lines"][1] for part in json.loads(whole.told)["parts"])
    assert lines > 0
    monkeypatch.setattr(module, "MOST_BYTES", size - 17)
    bare = view(evidence)
    assert bare is not None
    assert not bare.lines
    assert len(base64.b64decode(bare.shapes)) == size - lines
    monkeypatch.setattr(module, "MOST_BYTES", size - lines - 17)
    assert view(evidence) is None
