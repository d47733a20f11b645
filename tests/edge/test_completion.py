"""Shell completion, dry runs, and the bar that is shown while one waits."""

from __future__ import annotations

import os
import pty
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.build import build_scene
from pipeline.cli import main
from pipeline.commands import COMMANDS
from pipeline.commands.waiting import Waiting, bar
from pipeline.stages import STAGES

ROOT = Path(__file__).parents[2]
SMALL = """\
format = 1
box = { width = 90, height = 70, depth = 40 }
eye = { distance = 300, height = 35 }
space = { scale = 48, depth = 4.0 }
materials.card = { thickness = 1.0 }
"""


@pytest.mark.parametrize("shell", ["bash", "zsh"])
def test_every_command_is_completed(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The script names them all, with the options of ``build``."""
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    assert [command.name for command in COMMANDS if command.name not in script] == []
    assert "--dry-run" in script


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["sw"], ["sweep"]),
        (["build", "scenes/h"], ["scenes/hall.toml"]),
        (["cut", "sce"], ["scenes"]),
        (["build", "-o", "sce"], ["scenes"]),
        (["begin", "x", "--room", "br"], ["brick"]),
    ],
)
def test_bash_takes_the_script_and_completes(
    words: list[str], expected: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Asked as readline asks, the last word only begun: commands, choices, files and folders."""
    (tmp_path / "scenes").mkdir()
    (tmp_path / "scenes" / "hall.toml").touch()
    assert main(["completion", "bash"]) == 0
    (tmp_path / "completion.bash").write_text(capsys.readouterr().out)
    asked = (
        "source completion.bash; how=$(complete -p foreshorten); f=${how##*-F }; f=${f%% *}; "
        f"COMP_WORDS=(foreshorten {' '.join(words)}); COMP_CWORD={len(words)}; "
        f'COMP_LINE="foreshorten {" ".join(words)}"; $f foreshorten {words[-1]} {["foreshorten", *words][-2]}; '
        'echo "${COMPREPLY[@]}"'
    )
    said = subprocess.run(["bash", "-c", asked], cwd=tmp_path, capture_output=True, text=True, check=True).stdout
    assert said.split() == expected


def test_a_dry_run_says_what_it_would_do_and_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Not even what builds keep for one another."""
    scene, out = tmp_path / "small.toml", tmp_path / "out"
    scene.write_text(SMALL)
    assert main(["build", str(scene), "-o", str(out), "-n"]) == 0
    assert f"would make {out / 'small'}: " in capsys.readouterr().out
    assert sorted(path.name for path in tmp_path.iterdir()) == ["small.toml"]
    assert main(["build", str(scene), "-o", str(out)]) == 0
    before = {path: path.stat().st_mtime_ns for path in out.rglob("*")}
    assert main(["build", str(scene), "-o", str(out), "--dry-run"]) == 0
    assert f"would replace {out / 'small'}: " in capsys.readouterr().out
    assert {path: path.stat().st_mtime_ns for path in out.rglob("*")} == before


def test_watching_and_writing_nothing_do_not_go_together(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One of them is meant."""
    (tmp_path / "small.toml").write_text(SMALL)
    assert main(["build", str(tmp_path / "small.toml"), "--watch", "-n"]) == 2
    assert "leave one of them out" in capsys.readouterr().err


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are of Unix")
def test_a_bar_is_shown_on_a_terminal_and_tells_the_stage(tmp_path: Path) -> None:
    """After half a second; nothing of it goes into a pipe."""
    code = (
        "import time\n"
        "from pipeline.commands.waiting import Waiting, bar\n"
        "waiting = Waiting()\n"
        "with bar('building', 1, 1, waiting):\n"
        "    waiting.begins('checks')\n"
        "    time.sleep(1.2)\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm", "COLUMNS": "100", "NO_COLOR": "1"}
    ours, theirs = pty.openpty()
    try:
        subprocess.run([sys.executable, "-c", code], stderr=theirs, env=environment, check=True, timeout=60)
        said = os.read(ours, 65536).decode()
    finally:
        os.close(theirs)
        os.close(ours)
    assert "building: checks" in said
    (tmp_path / "small.toml").write_text(SMALL)
    command = [sys.executable, "-m", "pipeline", "build", "small.toml"]
    done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=True)
    assert done.stderr == ""


def test_a_build_tells_its_stages_in_their_order() -> None:
    """Those that the bar counts."""
    told: list[str] = []
    build_scene(SMALL.encode(), "small", begins=told.append)
    assert tuple(told) == STAGES


def test_what_is_quick_shows_no_bar(capsys: pytest.CaptureFixture[str]) -> None:
    """Nor does what runs through all its stages in no time."""
    waiting = Waiting()
    with bar("building", 1, 1, waiting):
        for stage in STAGES:
            waiting.begins(stage)
    time.sleep(0.01)
    assert capsys.readouterr().err == ""
