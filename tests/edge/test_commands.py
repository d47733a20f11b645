"""What the commands do with scenes, folders and streams; the building itself is stood in for."""

from __future__ import annotations

import errno
import hashlib
import io
import json
import multiprocessing
import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

from pipeline.cli import main
from pipeline.commands.scene_files import SceneFile
from pipeline.commands.workers import Worker
from pipeline.elements.problems import Problem
from pipeline.lock import held
from pipeline.scene.problems import PlacedProblem, SceneFileError

ROOT = Path(__file__).parents[2]
RELIEF = {"back_scale": 0.6}
PROBLEM = Problem(path=("columns", 1, "diameter"), found="0 is not above zero", allowed="above 0", remedy="try 1")
UNSAFE_STEMS = (".foreshorten.toml", "..toml", "a:b.toml", "con.toml", "room .toml", "x" * 201 + ".toml")


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """What the real build returns."""

    files: dict[str, bytes]
    manifest: dict[str, Any]
    summary: tuple[str, ...]
    failed: int


def stand_in(
    text: bytes,
    stem: str,
    overrides: tuple[tuple[str, str], ...] = (),
    read: dict[str, bytes] | None = None,
    layout: bytes | None = None,
    kept: object = None,
    begins: object = None,
) -> StandIn:
    """Do what the text says."""
    if text == b"wrong":
        problem = Problem(
            path=("columns", 1, "diameter"), found="0 is not above zero", allowed="above 0", remedy="try 1"
        )
        raise SceneFileError([PlacedProblem(problem=problem, line=14, column=1)])
    if text == b"fault":
        raise ZeroDivisionError("float division\nby zero")
    if text == b"die":
        os.kill(os.getpid(), signal.SIGKILL)
    if text == b"interrupt":
        raise KeyboardInterrupt
    failed = int(text == b"check fails")
    status = "fail" if failed else "pass"
    panel = f"{stem} {overrides}".encode()
    checks = [
        {"id": "fits-sheet", "part": "floor", "status": status, "message": "floor is 4 mm too wide"},
        {"id": "fits-box", "part": "", "status": "warn", "message": "tight"},
    ]
    manifest = {
        "title": stem,
        "scene_sha256": hashlib.sha256(text).hexdigest(),
        "relief": RELIEF,
        "parts": [{"id": "floor"}],
        "checks": checks,
        "files": {"panels/floor.svg": hashlib.sha256(panel).hexdigest()},
    }
    files = {"panels/floor.svg": panel, "manifest.json": json.dumps(manifest).encode()}
    return StandIn(files=files, manifest=manifest, summary=(f"{stem}: 1 panel",), failed=failed)


@pytest.fixture(autouse=True)
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder of its own, and the stand-in for the build."""
    module = ModuleType("pipeline.build")
    module.__dict__["build_scene"] = stand_in
    monkeypatch.setitem(sys.modules, "pipeline.build", module)
    monkeypatch.setattr("pipeline.scene.read.read_scene", lambda *_: SimpleNamespace(meshes=()))
    monkeypatch.delenv("FORESHORTEN_TRACEBACK", raising=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def scene(name: str, text: str = "good") -> str:
    path = Path(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return name


def tree(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.parametrize(
    ("text", "expected"), [("good", 0), ("check fails", 1), ("wrong", 2), ("fault", 3), ("interrupt", 130)]
)
@pytest.mark.parametrize("command", ["build", "inspect"])
def test_the_exit_code_says_what_became_of_the_scene(command: str, text: str, expected: int) -> None:
    """0 built, 1 a check failed, 2 wrong input, 3 fault of the program, 130 interrupted."""
    assert expected == main([command, scene("room.toml", text)])


def test_a_failed_check_still_leaves_everything_to_look_at() -> None:
    """Exit code 1 means built."""
    assert main(["build", scene("room.toml", "check fails")]) == 1
    assert Path("exports/room/manifest.json").is_file()


@pytest.mark.parametrize("text", ["wrong", "fault", "interrupt"])
def test_what_cannot_be_built_leaves_the_exports_untouched(text: str) -> None:
    """Neither made, nor replaced, nor added to."""
    assert main(["build", scene("room.toml")]) == 0
    expected = tree(Path("exports"))
    main(["build", scene("room.toml", text)])
    assert expected == tree(Path("exports"))
    main(["build", scene("other.toml", text), "--out", "new"])
    assert not Path("new").exists()


def test_inspect_writes_nothing(capsys: pytest.CaptureFixture[str], bench: Path) -> None:
    """It only says which checks failed, and why."""
    scene("room.toml", "check fails")
    assert main(["inspect", "room.toml"]) == 1
    assert [bench / "room.toml"] == list(bench.iterdir())
    said = capsys.readouterr().out
    assert "0 passed, 1 to look at, 1 failed" in said
    assert "fail: floor: floor is 4 mm too wide" in said
    assert "warn: whole room: tight" in said


def test_an_error_says_where_what_and_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    """``file:line:column: key: found; allowed. remedy``, on stderr; stdout is for results."""
    main(["build", scene("a/room.toml", "wrong")])
    streams = capsys.readouterr()
    expected = "a/room.toml:14:1: columns[2].diameter: 0 is not above zero; allowed: above 0. Try 1.\n"
    assert expected == streams.err
    assert streams.out == ""


def test_a_fault_is_one_line_without_a_traceback(capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody at the bench reads a traceback."""
    main(["build", scene("room.toml", "fault")])
    expected = (
        "foreshorten: room.toml: a fault of the program: ZeroDivisionError: float division by zero; "
        "FORESHORTEN_TRACEBACK=1 shows where\n"
    )
    assert expected == capsys.readouterr().err


def test_a_traceback_is_there_for_the_asking(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The exit code stays."""
    monkeypatch.setenv("FORESHORTEN_TRACEBACK", "1")
    assert main(["build", scene("room.toml", "fault")]) == 3
    assert "in stand_in" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        (("good", "good"), 0),
        (("good", "check fails"), 1),
        (("check fails", "wrong", "good"), 2),
        (("fault", "wrong", "good"), 3),
    ],
)
def test_several_scenes_give_the_worst_exit_code_and_each_is_tried(texts: tuple[str, ...], expected: int) -> None:
    """One bad scene does not keep the others from being built."""
    names = [scene(f"room-{number}.toml", text) for number, text in enumerate(texts)]
    assert expected == main(["build", *names])
    built = [number for number, text in enumerate(texts) if text in ("good", "check fails")]
    assert {f"room-{number}" for number in built} == {p.name for p in Path("exports").glob("room-*")}


def test_options_may_stand_between_the_scenes() -> None:
    """What is typed last is as good as what is typed first: a scene, an option, another scene."""
    first, second = scene("room-1.toml"), scene("room-2.toml")
    assert main(["build", first, "--out", "elsewhere", second]) == 0
    assert {p.name for p in Path("elsewhere").glob("room-*")} == {"room-1", "room-2"}


@pytest.mark.skipif(multiprocessing.get_start_method() != "fork", reason="the stand-in does not reach a fresh process")
def test_a_process_that_dies_costs_its_own_scene_only(capsys: pytest.CaptureFixture[str]) -> None:
    """Killed for want of memory, say: exit code 3, and the others, more than there are jobs, are built in order."""
    names = [scene(f"room-{number}.toml", "die" if number == 1 else "good") for number in range(5)]
    assert main(["build", *names, "--jobs", "2"]) == 3
    streams = capsys.readouterr()
    assert streams.err == "foreshorten: room-1.toml: the process building it ended suddenly (out of memory?)\n"
    assert streams.out.splitlines()[::2] == [f"room-{number}: 1 panel" for number in (0, 2, 3, 4)]


def test_a_process_that_dies_while_handing_over_is_no_endless_wait() -> None:
    """Its pipe holds the first bytes of a message that promises sixteen."""
    process = multiprocessing.Process(target=int)
    process.start()
    reader, writer = multiprocessing.Pipe(duplex=False)
    os.write(writer.fileno(), b"\0\0\0\x10begin")
    writer.close()
    room = SceneFile(path=Path("room.toml"), stem="room")
    assert Worker(number=0, scene=room, process=process).result(reader).exit == 3


@pytest.mark.parametrize("other", ["b/room.toml", "b/ROOM.toml", "a/room.txt"])
def test_two_scenes_of_one_stem_are_refused(capsys: pytest.CaptureFixture[str], other: str) -> None:
    """They would be one folder, on some systems whatever the case of the letters."""
    assert main(["build", scene("a/room.toml"), scene(other)]) == 2
    assert "a/room.toml" in (said := capsys.readouterr().err)
    assert other in said
    assert not Path("exports").exists()


def test_json_is_one_document_with_the_problems_in_it(capsys: pytest.CaptureFixture[str]) -> None:
    """Programs read stdout; the same text goes to stderr for people."""
    assert main(["build", scene("good.toml"), scene("bad.toml", "wrong"), "--json"]) == 2
    said = json.loads(capsys.readouterr().out)
    assert said["exit"] == 2
    good, bad = said["scenes"]
    assert (good["exit"], good["folder"], good["parts"], good["relief"]) == (0, "exports/good", ["floor"], RELIEF)
    assert [check["id"] for check in good["checks"]] == ["fits-sheet", "fits-box"]
    assert (bad["exit"], bad["folder"], bad["checks"]) == (2, None, [])
    expected = {
        "line": 14,
        "column": 1,
        "setting": "",
        "key": "columns[2].diameter",
        "found": "0 is not above zero",
        "allowed": "above 0",
        "remedy": "try 1",
    }
    assert [expected] == bad["problems"]


def test_quiet_says_nothing_where_all_is_well(capsys: pytest.CaptureFixture[str]) -> None:
    """Errors are still said."""
    main(["build", scene("room.toml"), "--quiet"])
    assert capsys.readouterr() == ("", "")
    main(["build", scene("room.toml", "wrong"), "--quiet"])
    assert "room.toml:14:1" in capsys.readouterr().err


def test_settings_reach_the_build() -> None:
    """Each ``--set`` is a key and a value, in the order given; a value may hold an equals sign."""
    main(["build", scene("room.toml"), "--set", "eye.distance=380", "--set", "title=a=b"])
    expected = b"room (('eye.distance', '380'), ('title', 'a=b'))"
    assert expected == Path("exports/room/panels/floor.svg").read_bytes()


@pytest.mark.parametrize("bad", [["--set", "eye"], ["--set", "=3"], ["--jobs", "0"], ["--jobs", "x"], ["--nonsense"]])
def test_a_wrong_argument_is_wrong_input(bad: list[str]) -> None:
    """Argparse leaves with code 2 as everything else that is the user's to mend."""
    with pytest.raises(SystemExit) as leaving:
        main(["build", scene("room.toml"), *bad])
    assert leaving.value.code == 2


def missing(path: Path) -> str:
    return f"{path}: no such file"


def folder(path: Path) -> str:
    path.mkdir()
    return f"{path}: is a folder"


def pipe(path: Path) -> str:
    os.mkfifo(path)
    return f"{path}: is not a plain file"


def too_large(path: Path) -> str:
    with path.open("wb") as stream:
        stream.truncate(2**33)
    return f"{path}: more than 1,000,000 bytes"


def loop(path: Path) -> str:
    path.symlink_to(path.name)
    return f"{path}: too many levels"


@pytest.mark.parametrize("make", [missing, folder, pipe, too_large, loop])
def test_what_is_no_scene_file_is_refused_unread(
    capsys: pytest.CaptureFixture[str], make: Callable[[Path], str]
) -> None:
    """A pipe would block for ever, eight gigabytes would fill the memory."""
    expected = make(Path("room.toml"))
    assert main(["build", "room.toml"]) == 2
    assert expected in capsys.readouterr().err


@pytest.mark.parametrize(
    "name", [".foreshorten.toml", "..toml", "a:b.toml", "con.toml", "room .toml", "x" * 201 + ".toml"]
)
def test_a_stem_that_makes_no_safe_folder_is_refused(capsys: pytest.CaptureFixture[str], name: str) -> None:
    """Least of all the folder of our own locks."""
    assert main(["build", name]) == 2
    assert "no safe folder name" in capsys.readouterr().err
    assert not Path("exports").exists()


def test_a_folder_of_the_users_is_refused_and_the_other_scene_built(capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2, the files named, one line."""
    Path("exports/room").mkdir(parents=True)
    Path("exports/room/novel.txt").write_text("chapter one")
    assert main(["build", scene("room.toml"), scene("other.toml")]) == 2
    said = capsys.readouterr().err
    assert "novel.txt" in said
    assert said.count("\n") == 1
    assert tree(Path("exports/room")) == {"novel.txt": b"chapter one"}
    assert Path("exports/other/manifest.json").is_file()


def test_a_folder_in_use_is_said_to_be(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """After a while one gives up."""
    monkeypatch.setattr("pipeline.commands.publishing.WAIT_SECONDS", 0.0)
    main(["build", scene("room.toml")])
    with held(Path("exports/.foreshorten/folders/room/lock"), 0.0):
        assert main(["build", "room.toml"]) == 2
    assert "another build is writing it" in capsys.readouterr().err


def in_child_as_nobody(arguments: list[str]) -> int:
    """Run a command in a forked process that may not write everywhere, which the superuser may."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            if os.geteuid() == 0:
                os.setgid(65534)
                os.setuid(65534)
            code = main(arguments)
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


@pytest.mark.parametrize("command", [["build", "room.toml"], ["begin", "hall"]])
def test_a_read_only_folder_is_one_clear_line(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: list[str]
) -> None:
    """Exit code 2: the folder is the user's to mend, the program has no fault."""
    with tempfile.TemporaryDirectory() as name:
        monkeypatch.chdir(name)
        main(["inspect", scene("room.toml")])
        capfd.readouterr()
        Path(name).chmod(0o555)
        assert in_child_as_nobody(command) == 2
        said = capfd.readouterr().err
        assert "permission denied" in said
        assert said.count("\n") == 1
        assert [Path("room.toml")] == list(Path().iterdir())
        Path(name).chmod(0o700)
        monkeypatch.undo()


def test_a_file_in_the_way_of_the_exports_is_one_clear_line(capsys: pytest.CaptureFixture[str]) -> None:
    """``--out`` names a file."""
    assert main(["build", scene("room.toml"), "--out", "room.toml"]) == 2
    said = capsys.readouterr().err
    assert "cannot be written" in said
    assert said.count("\n") == 1


def test_a_disk_that_fails_while_reading_back_is_said_to(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk is nobody's fault, and nothing was replaced."""

    def refuse(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    main(["build", scene("room.toml")])
    expected = tree(Path("exports"))
    monkeypatch.setattr(os, "fsync", refuse)
    assert main(["build", scene("room.toml", "check fails")]) == 2
    expected_text = (
        "foreshorten: exports/room: cannot be written: no space left on device; nothing was replaced: "
        "make room on the disk, or name another place\n"
    )
    assert expected_text == capsys.readouterr().err
    assert expected == tree(Path("exports"))


def test_a_reader_that_goes_away_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """``foreshorten build ... | head``: the exit code is that of the build."""
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w") as stream:
        monkeypatch.setattr(sys, "stdout", stream)
        assert main(["build", scene("room.toml", "check fails")]) == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_result_that_cannot_be_written_is_not_success(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """``foreshorten schema > file`` on a full disk must not look as if it had worked."""
    with Path("/dev/full").open("w") as stream:
        monkeypatch.setattr(sys, "stdout", stream)
        assert main(["inspect", scene("room.toml")]) == 2
    assert "no space left on device" in capsys.readouterr().err


def test_text_a_stream_cannot_show_is_escaped(monkeypatch: pytest.MonkeyPatch) -> None:
    """A scene's name may hold any letter, and the stream may be ASCII."""
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(sys, "stdout", stream)
    assert main(["build", scene("größe.toml")]) == 0
    stream.seek(0)
    assert stream.readline() == "gr\\xf6\\xdfe: 1 panel\n"
    assert stream.readline().endswith("gr\\xf6\\xdfe/report.html\n")


def test_help_imports_nothing_heavy() -> None:
    """``--help`` answers at once because numpy and pydantic stay away."""
    code = (
        "import sys; from pipeline.cli import main\n"
        "try: main(['--help'])\n"
        "finally: print(sorted({m.split('.')[0] for m in sys.modules} & "
        "{'numpy', 'pydantic', 'shapely', 'rich', 'ezdxf', 'trimesh', 'multiprocessing'}))"
    )
    plain = {key: value for key, value in os.environ.items() if not key.startswith("COVERAGE")}  # it imports for itself
    command = [sys.executable, "-c", code]
    said = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT, env=plain).stdout
    assert said.splitlines()[-1] == "[]"
    assert all(f"\n    {name} " in said for name in ("begin", "build", "inspect", "schema"))
