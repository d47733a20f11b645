"""A bench whose builds are stood in for, for the tests that ask for it."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

from tests.edge.standing_in import stand_in


@pytest.fixture
def stood_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder of its own, and the stand-in for the build."""
    module = ModuleType("pipeline.build")
    module.__dict__["build_scene"] = stand_in
    monkeypatch.setitem(sys.modules, "pipeline.build", module)
    monkeypatch.setattr("pipeline.scene.read.read_scene", lambda *_: SimpleNamespace(meshes=()))
    monkeypatch.delenv("FORESHORTEN_TRACEBACK", raising=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path
