"""What the command refuses before any page is there, and what it writes into a scene."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.commands.live import OnDisk
from pipeline.commands.scene_files import SceneFile
from pipeline.live.session import RefusedError
from pipeline.scene.editing import EditError, with_values
from tests.live.test_state import SCENE


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    path = tmp_path / "a.toml"
    path.write_bytes(SCENE)
    return path


def test_without_nicegui_it_says_how_to_get_it(
    scene: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is an extra; nothing else needs it."""
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    assert main(["live", str(scene)]) == 2
    assert "pip install '.[live]'" in capsys.readouterr().err


@pytest.mark.parametrize("port", ["80", "70000", "x", "-1", "8e3"])
def test_a_port_is_one_that_anybody_may_use(port: str, scene: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """RFC 6335, section 6: below 1024 are the system's."""
    with pytest.raises(SystemExit) as ended:
        main(["live", str(scene), f"--port={port}"])
    assert ended.value.code == 2
    assert "1024 to 65535" in capsys.readouterr().err


def test_a_scene_that_is_not_there_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Before anything is listened on."""
    pytest.importorskip("nicegui")
    assert main(["live", str(tmp_path / "none.toml")]) == 2
    assert "no such file" in capsys.readouterr().err


def test_saving_keeps_comments_and_order_and_adds_what_was_not_there(scene: Path) -> None:
    """A key that had its default joins its own table."""
    disk = OnDisk(SceneFile(path=scene, stem="a"), scene.parent / "out")
    disk.save(SCENE, (("eye.distance", 400.0), ("eye.right", -2.5), ("space.depth", 12.35)))
    expected = SCENE.replace(b"420 # mm", b"400 # mm").replace(b"height = 78\n", b"height = 78\nright = -2.5\n")
    assert scene.read_bytes() == expected.replace(b"depth = 12.0", b"depth = 12.35")


def test_saving_over_what_somebody_else_wrote_is_refused(scene: Path) -> None:
    """The file is left as it is."""
    disk = OnDisk(SceneFile(path=scene, stem="a"), scene.parent / "out")
    scene.write_bytes(SCENE + b"# mine\n")
    with pytest.raises(RefusedError, match="was changed"):
        disk.save(SCENE, (("eye.distance", 400.0),))
    assert scene.read_bytes() == SCENE + b"# mine\n"


def test_inline_tables_are_edited_in_place() -> None:
    """As in the README's scene in ten lines."""
    text = "eye = { distance = 420, height = 78 } # mm\n"
    assert with_values(text, {("eye", "distance"): 400}) == "eye = { distance = 400, height = 78 } # mm\n"


def test_a_table_that_is_not_there_is_not_made() -> None:
    """It would have to stand somewhere."""
    with pytest.raises(EditError):
        with_values("a = 1\n", {("eye", "distance"): 400.0})
