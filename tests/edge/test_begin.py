"""``foreshorten begin`` for one's own box: flags, questions, and scenes that build."""

from __future__ import annotations

import io
import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipeline.build import build_scene
from pipeline.cli import main
from pipeline.scene.model import Scene
from pipeline.scene.read import read_scene
from pipeline.scene.starter import KINDS, Wishes, starter_scene


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to work in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.usefixtures("bench")
def test_begin_writes_a_scene_and_never_over_one(capsys: pytest.CaptureFixture[str]) -> None:
    """The second time it is refused, and the first file is as it was."""
    assert main(["begin", "my hall"]) == 0
    assert capsys.readouterr().out == "my-hall.toml\n"
    Path("my-hall.toml").write_text("edited")
    assert main(["begin", "my hall"]) == 2
    assert Path("my-hall.toml").read_text() == "edited"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("hall", "hall.toml"),
        ("hall.toml", "hall.toml"),
        ("sub/hall", "sub/hall.toml"),
        ("Größe 12!", "Groe-12.toml"),
        ("-rf", "rf.toml"),
        ("a\nb", "a-b.toml"),
        ("x" * 300, "x" * 100 + ".toml"),
    ],
)
@pytest.mark.usefixtures("bench")
def test_begin_makes_a_name_safe(name: str, expected: str) -> None:
    """Letters, digits, hyphens and underscores are left."""
    Path("sub").mkdir()
    assert main(["begin", "--", name]) == 0
    assert Path(expected).is_file()


@pytest.mark.parametrize("name", ["", "..", "!!!", "con", "nowhere/hall", "/"])
def test_begin_refuses_a_name_it_cannot_use(name: str, bench: Path) -> None:
    """Nothing is written."""
    assert main(["begin", name]) == 2
    assert list(bench.iterdir()) == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_starter_builds_without_a_complaint(kind: str) -> None:
    """A first build that fails a check is a bad first hour; nothing of it needs a printer unless there is one."""
    for printer in (True, False):
        text = starter_scene(Wishes(title="First", kind=kind, printer=printer, box=(150, 110, 60)))  # type: ignore[arg-type]
        build = build_scene(text.encode(), "first")
        assert [check["message"] for check in build.manifest["checks"] if check["status"] != "pass"] == []
        if not printer:
            assert {part["made_as"] for part in build.manifest["parts"]} <= {"panel", "bent panel"}


@given(
    box=st.tuples(st.integers(60, 900), st.integers(60, 600), st.integers(30, 300)),
    kind=st.sampled_from(list(KINDS)),
    printer=st.booleans(),
    thickness=st.sampled_from([0.5, 1.0, 2.0, 3.0, 5.0]),
)
@example(box=(60, 600, 30), kind="vault", printer=False, thickness=2.0)  # a vault no higher than half its width
@settings(max_examples=150, deadline=None)
def test_a_starter_for_any_box_is_a_scene_that_can_be_made(
    box: tuple[int, int, int], kind: str, printer: bool, thickness: float
) -> None:
    """Read, measured and imagined with nothing to complain of, from a matchbox to a cupboard."""
    from pipeline.room.imagine import imagine
    from pipeline.room.measure import measure

    wishes = Wishes(box=box, kind=kind, printer=printer, thickness=thickness)  # type: ignore[arg-type]
    scene = read_scene(starter_scene(wishes).encode())
    assert (scene.box.width, scene.box.height, scene.box.depth) == box
    assert imagine(scene, measure(scene)).problems == ()


def test_flags_say_box_and_bench(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Inches at the end go for all three sides: 7 x 6 x 3 in are 177.8 x 152.4 x 76.2 mm."""
    words = ["--box", "7x6x3in", "--room", "vault", "--cut", "laser", "--thickness", "1,5", "--paper", "Letter"]
    path = tmp_path / "mine.toml"
    assert main(["begin", str(path), *words, "--eye", "40cm", "--eye-height", "70", "--no-printer"]) == 0
    scene = read_scene(path.read_bytes())
    assert (scene.box.width, scene.box.height, scene.box.depth) == (177.8, 152.4, 76.2)
    assert (scene.eye.distance, scene.eye.height, scene.make.paper) == (400, 70, "Letter")
    assert (scene.materials["card"].process, scene.materials["card"].thickness) == ("laser", 1.5)
    assert scene.vault is not None
    assert "next: foreshorten build" in capsys.readouterr().err


def begun(path: Path, *words: str) -> Scene:
    assert main(["begin", str(path), *words]) == 0
    return read_scene(path.with_suffix(".toml").read_bytes())


@pytest.mark.parametrize(
    ("box", "expected"),
    [("180x150x85", (420, 297)), ("31x22x9cm", (420, 297)), ("500x350x120", (594, 420)), ("900x500x200", (1000, 700))],
)
def test_the_sheet_is_one_that_is_sold_and_holds_every_wall(
    box: str, expected: tuple[float, float], tmp_path: Path
) -> None:
    """A3 and A2 (ISO 216), then 1000 x 700: 220 mm of wall, leaning, is below A3's 297."""
    assert begun(tmp_path / "mine", "--box", box).materials["card"].sheet == expected


def test_a_sheet_may_be_told_by_its_name(tmp_path: Path) -> None:
    """ISO 216, laid across: the next question is one of paper by name, so this one is answered so too."""
    assert begun(tmp_path / "mine", "--sheet", "a4", "--box", "120x90x50").materials["card"].sheet == (297, 210)


def test_a_laser_gets_a_kerf_and_square_edges_and_its_own_bed(tmp_path: Path) -> None:
    """No beam cuts a bevel; 600 x 300 is its bed, not a sheet."""
    scene = begun(tmp_path / "laser", "--cut", "laser", "--sheet", "60x30cm", "--room", "vault")
    assert (scene.make.edges, scene.materials["card"].kerf, scene.materials["card"].sheet) == (
        "square",
        0.15,
        (600, 300),
    )
    by_hand = begun(tmp_path / "hand")
    assert (by_hand.make.edges, by_hand.materials["card"].kerf) == ("bevel", 0)


def test_the_leaning_floor_of_a_starter_stands_on_something(tmp_path: Path) -> None:
    """Wedges carry it, and no note says that nothing does."""
    path = tmp_path / "mine.toml"
    assert main(["begin", str(path), "--box", "150x110x60", "--no-printer"]) == 0
    build = build_scene(path.read_bytes(), "mine")
    assert {"stringer-1", "stringer-2"} <= {part["id"] for part in build.manifest["parts"]}
    assert b"nothing holds its back edge" not in build.files["report.html"]


def test_a_box_deeper_than_wide_is_wondered_at(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Most likely depth and width were swapped; a file is written all the same."""
    begun(tmp_path / "mine", "--box", "80x150x180")
    assert "width comes first, then height, then depth" in capsys.readouterr().err
    begun(tmp_path / "other", "--box", "180x150x80")
    assert "width comes first" not in capsys.readouterr().err


def test_comments_of_a_starter_stand_below_one_another() -> None:
    """Whatever figures stand before them."""
    for box in ((150.0, 110.0, 60.0), (1234.5, 987.25, 300.0)):
        lines = starter_scene(Wishes(box=box)).splitlines()
        marks = {line.index(" #") for line in lines if re.match(r"\w+ = [^#]{1,15} #", line)}
        assert marks == {23}


def test_a_dry_run_shows_the_scene_and_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On stdout, so that it can be piped."""
    assert main(["begin", str(tmp_path / "mine"), "-n", "--box", "90x60x40"]) == 0
    assert read_scene(capsys.readouterr().out.encode()).box.width == 90
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--box", "20x60x40", "--thickness", "5"], "allowed: 50 x 50 x 25 mm or more"),
        (["--eye-height", "200"], "allowed: 2 to 117 mm"),
        (["--box", "50"], "width x height x depth"),
        (["--box", "50xax3"], "is not a length"),
        (["--sheet", "A9"], "'A9' is not width x height, as in 420x297; A4, A3, A2 or A1 will do too"),
        (["--thickness", "nan"], "is not a length"),
        (["--room", "cave"], "choose from brick, vault, timber, plain"),
    ],
)
def test_what_no_room_can_stand_in_is_refused(
    words: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With exit code 2, what is allowed, and no file."""
    try:
        code = main(["begin", str(tmp_path / "mine"), *words])
    except SystemExit as leaving:
        code = int(leaving.code or 0)
    assert code == 2
    assert said in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_questions_are_asked_until_they_are_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A slip is said and asked again; an empty answer takes what stands in brackets; beginnings of words will do."""
    answers = ["200x150", "200x150x60", "", "ti", "axe", "l", "3", "600x300", "no", "a3"]
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join([*answers, ""])))
    path = tmp_path / "mine.toml"
    assert main(["begin", str(path), "--ask"]) == 0
    scene = read_scene(path.read_bytes())
    assert (scene.box.width, scene.box.height, scene.box.depth) == (200, 150, 60)
    assert (scene.left.cover, scene.make.paper) == ("boards", "A3")
    card = scene.materials["card"]
    assert (card.process, card.thickness, card.sheet) == ("laser", 3, (600, 300))
    said = capsys.readouterr().err
    assert "'200x150' is not width x height x depth" in said
    assert "'axe' is none of these; type hand or knife or laser" in said
    assert "timber  a timber room" in said


def test_an_answer_may_be_a_word_of_the_choice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever is told "a scalpel and a ruler" may say scalpel, and window for the room that has one."""
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(["", "", "window", "Scalpel", *[""] * 5])))
    assert main(["begin", str(tmp_path / "mine"), "--ask"]) == 0
    scene = read_scene((tmp_path / "mine.toml").read_bytes())
    assert (scene.openings[1].name, scene.materials["card"].process) == ("window", "hand")


def test_answers_that_end_too_soon_leave_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As when somebody thinks better of it."""
    monkeypatch.setattr("sys.stdin", io.StringIO("200x150x60\n"))
    assert main(["begin", str(tmp_path / "mine"), "--ask"]) == 2
    assert "the answers ended before the questions" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are of Unix")
def test_it_asks_on_a_terminal_and_only_there(tmp_path: Path) -> None:
    """Nothing given and somebody there: questions. A pipe gets the starter at once."""
    command = [sys.executable, "-m", "pipeline", "begin", "mine"]
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2]), "TERM": "xterm"}
    ours, theirs = pty.openpty()
    try:
        asked = subprocess.Popen(command, cwd=tmp_path, stdin=theirs, stderr=theirs, stdout=theirs, env=environment)
        os.write(ours, b"210x140x70\n" + b"\n" * 7)
        assert asked.wait(timeout=60) == 0
    finally:
        os.close(theirs)
        os.close(ours)
    assert read_scene((tmp_path / "mine.toml").read_bytes()).box.width == 210
    command[-1] = "piped"
    done = subprocess.run(
        command, check=False, cwd=tmp_path, stdin=subprocess.DEVNULL, capture_output=True, env=environment
    )
    assert done.returncode == 0
    assert read_scene((tmp_path / "piped.toml").read_bytes()).box.width == 160
