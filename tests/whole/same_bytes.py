"""Everything that the commands write, in surroundings of all kinds, as one hash a file.

python -m tests.whole.same_bytes scenes/*.toml --seeds 20

builds the scenes named and this file's own, and runs every other command that writes, once in each surroundings, and
tells of every file that is not the same in all of them.

Terms
-----
surroundings
    What is not in the scene file and must not be in what is made: the seed of Python's hashes, the time zone, the
    language, the folder, how many processes build at once.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import io
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from pipeline.cli import main as command
from pipeline.commands.live import OnDisk
from pipeline.commands.scene_files import SceneFile
from tests.scene_text import DOOR, PLAIN

ROOT = Path(__file__).parents[2]

SCENE = """\
format = 1
title = "Lampenlager Ä"

[box]
width = 120
height = 100
depth = 60
back_gap = 6

[box.make]
board = 5
end_board = 3
joint = "finger"
ends = "let in"
lid = 24
saw = 1.2
hinge = "left"

[eye]
distance = 350
height = 48

[space]
scale = 40
depth = 6.0

[left]
cover = "brick"

[floor]
cover = "flags"

[covers.brick]
pattern = "running"
length = 0.6
height = 0.25
width = 0.29
joint = 0.02

[covers.flags]
pattern = "flags"
length = 0.9
width = 0.7
height = 0.1
joint = 0.02

[[openings]]
name = "hatch"
wall = "right"
at = 2.5
width = 0.9
sill = 0.5
height = 1.4
head = "round"

[[openings]]
name = "lit niche"
wall = "back"
at = 1.1
width = 0.9
height = 1.6
head = "pointed"
beyond = "light"

[[spiral_stairs]]
name = "turret stair"
at = [0.5, 3.9]
diameter = 1.4
newel = 0.25
count = 12

[[columns]]
name = "post"
at = [[-0.8, 2.0]]
diameter = 0.3
base = 0.2

[[figures]]
name = "warden"
height = 1.7
at = [-0.3, 1.5]
facing = 30

[[lights]]
name = "day"
kind = "beam"
direction = [-0.8, 0.3, -0.5]

[[lights]]
name = "lamp"
kind = "lamp"
at = [-0.4, 1.6, 1.9]
supply = 3.0
forward = 2.0
current = 0.005

[wiring]
battery = "CR2032"
gauge = 30

[camera]
lens = 50

[air]
visibility = 40
[air.paints]
brick = "#A8B0A2"

[materials.card]
thickness = 1.5
process = "laser"
kerf = 0.1
sheet = [300, 200]
price = 1.1

[make]
dxf = "R2010"
"""
OLDER = f'{PLAIN}{DOOR}\n[make]\ndxf = "R12"\n'
"""For old machines; small, since all else is in the other."""


OWN = {"newer": SCENE, "older": OLDER}


@dataclass(frozen=True, kw_only=True)
class Around:
    """One of the surroundings."""

    seed: int
    zone: str
    language: str
    folder: str
    jobs: int


def around(count: int) -> list[Around]:
    """Return surroundings: each of two zones, languages, folders and numbers of jobs with each other at least once.

    In language C Python is held to ASCII, so that a text read or written in the locale's encoding would show.
    """
    zones, languages = ("Pacific/Kiritimati", "America/St_Johns"), ("C", "C.UTF-8")
    folders = ("a", "somewhere far longer/with spaces & signs/\u00dcbung")
    pairs = ((0, 0, 0, 0), (1, 1, 1, 0), (1, 0, 1, 1), (0, 1, 0, 1))
    draw = random.Random(20261126)
    seeds = [0, *draw.sample(range(1, 2**32), count - 1)]
    return [
        Around(seed=seed, zone=zones[a], language=languages[b], folder=folders[c], jobs=1 + d)
        for seed, (a, b, c, d) in zip(seeds, (pairs[k % 4] for k in range(count)), strict=True)
    ]


def hashes(one: Around, place: Path, scenes: Mapping[str, bytes]) -> dict[str, str]:
    """Return the SHA-256 of every file that the commands make of scenes, and of all they say.

    Parameters
    ----------
    one
        Surroundings.
    place
        Folder in which theirs is made.
    scenes
        Texts by name; this file's own come first.
    """
    folder = place / one.folder
    folder.mkdir(parents=True)
    for name, text in scenes.items():
        (folder / f"{name}.toml").write_bytes(text)
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("LC_", "LANG", "PYTHON"))}
    environment |= {
        "PYTHONHASHSEED": str(one.seed), "TZ": one.zone, "LANG": one.language, "LC_ALL": one.language,
        "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONPATH": str(ROOT), "COLUMNS": "120",
    }  # fmt: skip
    write = [sys.executable, "-m", "tests.whole.same_bytes", "--write", "--jobs", str(one.jobs)]
    names = [f"{name}.toml" for name in scenes]
    run = subprocess.run([*write, *names], check=False, cwd=folder, env=environment, capture_output=True)
    assert run.returncode == 0, (one, run.stdout, run.stderr)
    files = [path for path in sorted(folder.rglob("*")) if path.is_file() and not LEFT_OUT & {path.name, path.suffix}]
    return {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


LEFT_OUT = {"lock", ".kept"}
"""Names and endings of what the program keeps for itself: locks, and results for its next build."""


def write_all(scenes: list[str], jobs: str) -> None:
    """Run every command that writes files, in the folder one is in, and put what each says into a file of its own."""
    for name in ("kerf", "moved"):
        shutil.copy("newer.toml", f"{name}.toml")
    calls = {
        "build": ["build", *scenes, "--out", "made", "--jobs", jobs],
        "inspect": ["inspect", "older.toml", "--json"],
        "cut": ["cut", "made/newer", "--all"],
        "coupon": ["coupon", "card", "--scene", "newer.toml", "--out", "coupon"],
        "kerf": ["coupon", "card", "--scene", "kerf.toml", "--read", "49.2", "--write"],
        "sweep": [
            "sweep", "older.toml", "--set", "eye.distance=400,420", "--out", "swept",
            "--jobs", jobs,
        ],
        "compare": ["compare", "made/older", "older.toml", "--set", "eye.distance=380", "--picture", "compare.svg"],
        "depth": ["depth", "newer.toml", "--picture", "depth.svg"],
        "warp": ["warp", "made/newer/prints/post.stl", "--scene", "older.toml", "--unit", "cm", "-o", "warped.stl"],
        "begin": ["begin", "begun", "--box", "180x150x85", "--room", "vault"],
        "schema": ["schema"],
        "completion": ["completion", "bash"],
    }  # fmt: skip
    for name, arguments in calls.items():
        said = io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            code = command(arguments)
        Path(f"{name}.said").write_text(said.getvalue(), "utf-8")
        if code not in ((0, 1) if name in ("build", "inspect", "compare", "sweep") else (0,)):
            raise SystemExit(f"{name}: exit code {code}\n{said.getvalue()}")
    moved = OnDisk(SceneFile(path=Path("moved.toml"), stem="moved"), Path("made"))
    moved.save(moved.text(), (("eye.distance", 402.5), ("eye.right", -3.0), ("space.depth", 6.5)))


def differing(
    count: int, scenes: Mapping[str, bytes], place: Path, say: Callable[[str], object] = len
) -> tuple[dict[str, str], list[str]]:
    """Return the hashes of the first of so many surroundings, and a line for each file another has otherwise.

    Each surroundings that is done is told to ``say``.
    """
    first: dict[str, str] = {}
    lines = []
    for number, one in enumerate(around(count)):
        found = hashes(one, place / str(number), scenes)
        first = first or found
        names = dict.fromkeys((*first, *found))
        lines += [f"{name}: {one}" for name in names if first.get(name) != found.get(name)]
        say(f"{number + 1} of {count}: {len(found)} files, {len(lines)} not alike so far")
        if number:
            shutil.rmtree(place / str(number))
    return first, lines


def texts(paths: Iterable[Path]) -> dict[str, bytes]:
    """Return the texts of this file's own scenes and of some files, by name."""
    return {name: text.encode() for name, text in OWN.items()} | {path.stem: path.read_bytes() for path in paths}


def main() -> int:
    """Do what the arguments ask for; return 1 if any file differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.whole.same_bytes", description=__doc__)
    parser.add_argument("scenes", nargs="*", type=Path, help="scene files to build besides this file's own")
    parser.add_argument("--seeds", type=int, default=20, help="surroundings, each with a hash seed of its own")
    parser.add_argument("--write", action="store_true", help="only run the commands here, as it is here")
    parser.add_argument("--jobs", default="1", help="with --write: processes at once")
    given = parser.parse_args()
    if given.write:
        write_all([str(path) for path in given.scenes], given.jobs)
        return 0
    with tempfile.TemporaryDirectory() as place:
        first, lines = differing(given.seeds, texts(given.scenes), Path(place), _say)
    kinds = sorted({Path(name).suffix for name in first})
    for line in (*lines, f"{given.seeds} times {len(first)} files, {len(lines)} not alike: {' '.join(kinds)}"):
        _say(line)
    return 1 if lines else 0


def _say(words: str) -> None:
    print(words, flush=True)  # noqa: T201


if __name__ == "__main__":
    sys.exit(main())
