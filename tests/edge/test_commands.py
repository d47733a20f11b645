"""What the commands do with scenes and say of them; the building itself is stood in for."""

from __future__ import annotations

import json
import multiprocessing
import os
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.commands.scene_files import SceneFile
from pipeline.commands.workers import Worker
from tests.edge.standing_in import RELIEF, scene
from tests.on_disk import files_in

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.usefixtures("stood_in")


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
    expected = files_in(Path("exports"))
    main(["build", scene("room.toml", text)])
    assert expected == files_in(Path("exports"))
    main(["build", scene("other.toml", text), "--out", "new"])
    assert not Path("new").exists()


def test_inspect_writes_nothing(capsys: pytest.CaptureFixture[str], stood_in: Path) -> None:
    """It only says which checks failed, and why."""
    scene("room.toml", "check fails")
    assert main(["inspect", "room.toml"]) == 1
    assert [stood_in / "room.toml"] == list(stood_in.iterdir())
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
