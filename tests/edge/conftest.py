"""A bench whose builds are stood in for, for the tests that ask for it."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

from pipeline import folder
from tests.edge.standing_in import stand_in


@pytest.fixture
def stood_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder of its own, and the stand-in for the build."""
    module = ModuleType("pipeline.build")
    module.__dict__["build_scene"] = stand_in
    monkeypatch.setitem(sys.modules, "pipeline.build", module)
    monkeypatch.setattr("pipeline.scene.read.read_scene", lambda *_: SimpleNamespace(meshes=(), figures=()))
    monkeypatch.delenv("FORESHORTEN_TRACEBACK", raising=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "exports"


@pytest.fixture(params=["exchange", "rename pair"])
def exchange(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Both ways of replacing, the second forced."""
    if request.param == "rename pair":
        monkeypatch.setattr(folder, "_exchange", lambda *_: False)
    elif sys.platform != "linux":
        pytest.skip("renameat2 is Linux")
    return str(request.param)
