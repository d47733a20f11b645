"""One scene under judgement: how long it may take, how much it may hold, and what may come out."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import re
import resource
import signal
import sys
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import FrameType
from typing import Any

import numpy as np
import trimesh

from pipeline.build import make, shape
from pipeline.checks import CHECKS
from pipeline.cli import main
from pipeline.elements.problems import SceneError
from pipeline.report import forgiving, heatmap
from pipeline.room.imagine import imagine
from pipeline.room.measure import measure
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import placed_error, read_scene
from pipeline.sight import camera
from tests.fuzz.growing import MESH
from tests.what_to_do import tells_what_to_do

MOST_SECONDS = 10.0
"""Of processor time: other work on the machine is none of the scene's."""
MOST_KILOBYTES = 1_000_000
"""More than the process held before."""
MESSAGE = re.compile(r"(a\.toml:\d+(:\d+)?|--set [^\n]*): [^\n]+[.?]")
OTHERS_WORDS = ("Input should", "Value error", "Field required", "pydantic", "Traceback")
_WRITES = frozenset(
    ["os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.link", "os.symlink", "os.truncate", "os.chmod", "os.utime"]
)


class WrongError(BaseException):
    """What must not happen has happened; no `except Exception` on the way may take it for something else."""


class SlowError(WrongError):
    """It took too long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What became of a scene.

    Attributes
    ----------
    outcome
        ``"refused"``, ``"taken"`` (read and imagined), ``"built"``, ``"failed"`` (built, and a check failed).
    seconds
        Of processor time.
    """

    outcome: str
    seconds: float


@cache
def mesh_file() -> bytes:
    """Return the mesh file that lies beside every scene: a box of 30 x 20 x 10."""
    return bytes(trimesh.creation.box((30.0, 20.0, 10.0)).export(file_type="stl"))


def judge_read(text: str | bytes) -> Verdict:
    """Read a scene, measure it and imagine all in it.

    Raises
    ------
    WrongError
        If it takes too long or too much, or a refusal is not in our words. Any other exception is one of the program's.
    """
    with limits() as begun:
        outcome = "refused" if refusal(text) else "taken"
    return Verdict(outcome=outcome, seconds=time.process_time() - begun)


def refusal(text: str | bytes) -> list[str]:
    """Return what is said of a scene that cannot be read, measured or imagined, of a good one nothing.

    Raises
    ------
    WrongError
        If it is not said in our words. Any other exception is one of the program's.
    """
    data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    try:
        scene = read_scene(data)
        said = imagine(scene, measure(scene, {MESH: mesh_file()}))
        if not said.problems:
            return []
        raise SceneError(list(said.problems))
    except SceneFileError as error:
        refused = error
    except SceneError as error:
        refused = placed_error(data, error.problems)
    return in_our_words(refused, data.count(b"\n") + 1)


def in_our_words(refused: SceneFileError, lines: int) -> list[str]:
    """Return what is said of a file of so many lines, each a line at a place of it that a terminal can show."""
    said = refused.describe("a.toml")
    if not said or not all(1 <= item.line <= lines for item in refused.placed):
        raise WrongError(f"no place in the file: {said}")
    for item in refused.placed:
        if not item.problem.found or not item.problem.remedy:
            raise WrongError(f"nothing said to do: {item.say('a.toml')!r}")
    for line in said:
        if not MESSAGE.fullmatch(line) or not line.isprintable() or any(words in line for words in OTHERS_WORDS):
            raise WrongError(f"not in our words: {line!r}")
    return said


def judge_make(text: str | bytes) -> Verdict:
    """Make all parts and files of a scene and check them; only the pictures and the page are left out.

    Raises
    ------
    WrongError
        As ``judge_build``, of what is made in memory.
    """
    data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    with limits() as begun:
        try:
            evidence = make(data, files={MESH: mesh_file()})
        except SceneFileError as error:
            in_our_words(error, data.count(b"\n") + 1)
            return Verdict(outcome="refused", seconds=time.process_time() - begun)
        findings = [finding for check in CHECKS for finding in check.run(evidence)]
    silent = [one.message for one in findings if one.status != "pass" and not tells_what_to_do(one.message)]
    if silent:
        raise WrongError(f"nothing said to do: {silent}")
    failed = any(finding.status == "fail" for finding in findings)
    for name, content in evidence.files.items():
        look_at(name, content)
    return Verdict(outcome="failed" if failed else "built", seconds=time.process_time() - begun)


def refusal_of(text: str) -> list[str]:
    """Return what is said of a scene that cannot be shaped, within its time and memory.

    Raises
    ------
    WrongError
        If it can.
    """
    with limits():
        try:
            shape(text.encode(), files={MESH: mesh_file()})
        except SceneFileError as error:
            return in_our_words(error, text.count("\n") + 1)
    raise WrongError("it is not refused")


def judge_build(text: str | bytes, folder: Path, options: tuple[str, ...] = ()) -> Verdict:
    """Build a scene by the command with more of its options, into a folder of its own that is empty.

    Raises
    ------
    WrongError
        If the program has a fault, takes too long or too much, writes elsewhere, or writes what is no number.
    """
    scene, out = folder / "scene.toml", folder / "out"
    (folder / MESH).write_bytes(mesh_file())
    scene.write_bytes(text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text)
    os.environ["FORESHORTEN_TRACEBACK"] = "1"
    said = io.StringIO()
    with limits() as begun, writes_only_in(out), _said_to(said):
        code = main(["build", str(scene), "--out", str(out), "--quiet", *options])
    spent = time.process_time() - begun
    if code not in (0, 1, 2):
        raise WrongError(f"exit code {code}: {' < '.join(said.getvalue().splitlines()[:-12:-1])}")
    if code == 2:
        if any(path.name == "scene" for path in out.glob("*")):
            raise WrongError("refused, and written")
        return Verdict(outcome="refused", seconds=spent)
    look_over(out / "scene")
    return Verdict(outcome="built" if code == 0 else "failed", seconds=spent)


@contextlib.contextmanager
def _said_to(said: io.StringIO) -> Iterator[None]:
    with contextlib.redirect_stderr(said), contextlib.redirect_stdout(io.StringIO()):
        yield


def look_over(folder: Path) -> None:
    """Hold an export folder against its manifest, and every number in it against infinity.

    Raises
    ------
    WrongError
        At the first file that is not as it should be.
    """
    manifest = json.loads((folder / "manifest.json").read_bytes(), parse_constant=_no_number)
    listed = {"manifest.json": None, **manifest["files"]}
    found = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
    if set(found) != set(listed):
        raise WrongError(f"not as listed: {sorted(set(found) ^ set(listed))}")
    for name, path in found.items():
        content = path.read_bytes()
        if listed[name] is not None and hashlib.sha256(content).hexdigest() != listed[name]:
            raise WrongError(f"{name}: not the file that the manifest lists")
        look_at(name, content)


def look_at(name: str, content: bytes) -> None:
    """Hold every number of a file against infinity, and its form against what any reader expects.

    Raises
    ------
    WrongError
        If one is none.
    """
    suffix = Path(name).suffix
    if suffix == ".svg":
        ET.fromstring(content)
    if suffix in (".svg", ".dxf", ".html") and re.search(rb"(?<![\w#/+=])-?(nan|inf)(?![\w/+=])", content):
        raise WrongError(f"{name}: a number that is none")
    if suffix == ".stl":
        _stl(name, content)


def _no_number(word: str) -> Any:
    raise WrongError(f"manifest.json: {word}")


def _stl(name: str, content: bytes) -> None:
    rows = np.frombuffer(content, dtype=np.dtype([("p", "<f4", 12), ("a", "<u2")]), offset=84)["p"]
    if not np.isfinite(rows).all() or len(rows) < 4:
        raise WrongError(f"{name}: no solid of finite numbers")


@contextlib.contextmanager
def limits() -> Iterator[float]:
    """Hold what is done within to its time and memory; yields the processor time at its beginning."""
    most, now = _peak(), int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() // 1000
    before = signal.signal(signal.SIGPROF, _ring)
    signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
    try:
        yield time.process_time()
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)
    if _peak() > most and _peak() - now > MOST_KILOBYTES:
        raise WrongError(f"it held {(_peak() - now) / 1e6:.2f} GB")


def _peak() -> int:
    """Return the most that the process ever held, kB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def _ring(number: int, frame: FrameType | None) -> None:
    where = [] if frame is None else [f"{frame.f_code.co_filename}:{frame.f_lineno}"]
    while frame is not None and frame.f_back is not None and len(where) < 30:
        frame = frame.f_back
        where.append(f"{frame.f_code.co_filename}:{frame.f_lineno}")
    raise SlowError(f"more than {MOST_SECONDS:g} s: " + " < ".join(where))


@contextlib.contextmanager
def ticking(place: Callable[[], int]) -> Iterator[None]:
    """Hold each of many short things to its time: ``place`` tells which one it is at. The clock is set only once."""
    last, rung = -1, 0

    def tick(number: int, frame: FrameType | None) -> None:
        nonlocal last, rung
        last, rung = place(), rung + 1 if place() == last else 0
        if rung >= MOST_SECONDS:
            _ring(number, frame)

    before = signal.signal(signal.SIGPROF, tick)
    signal.setitimer(signal.ITIMER_PROF, 1.0, 1.0)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


@contextlib.contextmanager
def small_pictures() -> Iterator[None]:
    """Take pictures of a hundredth of the size, and look for what the eye forgives through fewer points."""
    aim, lattice, coarse, margin = camera.aim.__defaults__, forgiving.LATTICE, heatmap.COARSE, heatmap.MARGIN
    camera.aim.__defaults__ = (120, 90)
    forgiving.LATTICE, heatmap.COARSE, heatmap.MARGIN = (16, 12), 3, 2
    try:
        yield
    finally:
        camera.aim.__defaults__ = aim
        forgiving.LATTICE, heatmap.COARSE, heatmap.MARGIN = lattice, coarse, margin


_allowed: list[Path] = []
_strayed: list[str] = []
_watching = False


@contextlib.contextmanager
def writes_only_in(folder: Path) -> Iterator[None]:
    """Hold what is done within to writing in a folder, by the events Python tells of (PEP 578)."""
    global _watching  # noqa: PLW0603 - a hook cannot be taken off again, so there is one
    if not _watching:
        sys.addaudithook(_watch)
        _watching = True
    _strayed.clear()
    _allowed[:] = [folder.resolve()]
    try:
        yield
    finally:
        _allowed.clear()
    if _strayed:
        raise WrongError(f"written outside the folder: {_strayed[:5]}")


def _watch(event: str, arguments: tuple[Any, ...]) -> None:
    if not _allowed:
        return
    if event == "open":
        name, _, flags = arguments
        writing = bool(isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC))
        if not writing or isinstance(name, int):
            return
    elif event not in _WRITES:
        return
    path = Path(os.path.abspath(os.fsdecode(arguments[0])))  # follows no link, and asks the disk nothing
    if not any(path == root or root in path.parents for root in _allowed) and str(path) != os.devnull:
        _strayed.append(f"{event} {path}")
