"""DXF R12 against the reference's entities and readers that are not ours."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely

from pipeline.build import build_scene
from pipeline.checks.written import read_dxf
from pipeline.exports.drawing import Drawing
from pipeline.exports.dxf import write_dxf
from pipeline.exports.dxf_r12 import write_r12
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene

from tests.scene_text import COVERED, DOOR
from tests.sheets.reading import shapes
from tests.exports.sample_drawing import TOLERANCE, sample


def reread(data: bytes) -> Any:
    return ezdxf.read(io.StringIO(data.decode("ascii")))


@pytest.mark.parametrize("drawing", [sample(), Drawing(title="nothing", shapes=())], ids=["full", "empty"])
def test_audit_finds_nothing_to_mend(drawing: Drawing) -> None:
    """ezdxf takes it for AC1009 and mends nothing."""
    document = reread(write_r12(drawing, TOLERANCE))
    assert document.dxfversion == "AC1009"
    auditor = document.audit()
    assert [error.message for error in auditor.errors] == []
    assert [fix.message for fix in auditor.fixes] == []


def test_only_entities_of_release_12() -> None:
    """POLYLINE, LINE and TEXT; closed paths have bit 1 of group 70."""
    space = list(reread(write_r12(sample(), TOLERANCE)).modelspace())
    assert {entity.dxftype() for entity in space} == {"POLYLINE", "LINE", "TEXT"}
    assert all(entity.is_closed for entity in space if entity.dxftype() == "POLYLINE")


def test_it_says_what_a_unit_is() -> None:
    """Nothing in R12's header can: a comment and a note do."""
    data = write_r12(sample(), TOLERANCE)
    assert data.startswith(b"999\nall sizes in mm")
    assert any("1 unit = 1 mm" in entity.dxf.text for entity in reread(data).modelspace().query("TEXT"))


def test_both_versions_hold_the_same_drawing(tmp_path: Path) -> None:
    """GDAL's lines of R12 and R2010, layer by layer, in one order; the units note apart."""
    new, old = (shapes(write(sample(), TOLERANCE), tmp_path) for write in (write_dxf, write_r12))
    assert set(new) == set(old)
    for layer, lines in new.items():
        assert len(old[layer]) == len(lines) + (layer == "NOTES")
        for one, other in zip(lines, old[layer], strict=False):
            assert shapely.hausdorff_distance(one, other) < 1e-5


def test_our_reader_reads_both_alike() -> None:
    """Vertices and bulges, to the digit."""
    new, old = read_dxf(write_dxf(sample(), TOLERANCE)), read_dxf(write_r12(sample(), TOLERANCE))
    assert old.insunits is None
    for name, layer in new.layers.items():
        for one, other in zip(layer.polylines, old.layers[name].polylines, strict=True):
            assert np.array_equal(one.points, other.points)
            assert one.closed == other.closed


def test_a_polyline_without_its_end_is_refused() -> None:
    """A file cut short is no drawing."""
    broken = write_r12(sample(), TOLERANCE).replace(b"SEQEND", b"VERTEX")
    with pytest.raises(ValueError, match="SEQEND"):
        read_dxf(broken)


def test_a_scene_may_ask_for_it() -> None:
    """Panels and sheets alike, and the checks that read them back still pass."""
    made = build_scene((COVERED + DOOR + '\n[make]\ndxf = "R12"\n').encode(), "old")
    assert made.failed == 0
    drawn = [data for name, data in made.files.items() if name.endswith(".dxf")]
    assert len(drawn) > 5
    assert all(b"AC1009" in data and b"LWPOLYLINE" not in data for data in drawn)


def test_splines_of_release_12_are_refused() -> None:
    """It has none."""
    with pytest.raises(SceneFileError, match="R12"):
        read_scene(COVERED + '\n[make]\ndxf = "R12"\ncurves = "splines"\n')
