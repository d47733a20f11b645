"""The same scene makes the same bytes, whatever else differs: hash seed, clock, language, folder, jobs."""

from __future__ import annotations

import hashlib
import json
import os
import random
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from ..scene_text import DOOR, PLAIN

ROOT = Path(__file__).parents[2]

SEEDS = int(os.environ.get("FORESHORTEN_HASH_SEEDS", "4"))
"""How many hash seeds are tried; 20 by hand, a fifth of them every time. The first four meet all else that differs."""

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

KINDS = {".dxf", ".svg", ".stl", ".3mf", ".pdf", ".png", ".glb", ".csv", ".html", ".json"}
"""Every format that is written; a scene that left one out would prove nothing of it."""


@dataclass(frozen=True, kw_only=True)
class Around:
    """What is not in the scene file and must not be in what is made."""

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
    folders = ("a", "somewhere far longer/with spaces & signs/Übung")
    pairs = ((0, 0, 0, 0), (1, 1, 1, 0), (1, 0, 1, 1), (0, 1, 0, 1))
    draw = random.Random(20261126)
    seeds = [0, *draw.sample(range(1, 2**32), count - 1)]
    return [
        Around(seed=seed, zone=zones[a], language=languages[b], folder=folders[c], jobs=1 + d)
        for seed, (a, b, c, d) in zip(seeds, (pairs[k % 4] for k in range(count)), strict=True)
    ]


def hashes(one: Around, place: Path) -> dict[str, str]:
    """Return the SHA-256 of every file that the command line makes of both scenes."""
    folder = place / one.folder
    folder.mkdir(parents=True)
    for name, text in (("newer", SCENE), ("older", OLDER)):
        (folder / f"{name}.toml").write_text(text, "utf-8")
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("LC_", "LANG", "PYTHON"))}
    environment |= {
        "PYTHONHASHSEED": str(one.seed), "TZ": one.zone, "LANG": one.language, "LC_ALL": one.language,
        "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONPATH": str(ROOT),
    }  # fmt: skip
    command = [sys.executable, "-m", "pipeline", "build", "newer.toml", "older.toml", "--jobs", str(one.jobs)]
    run = subprocess.run([*command, "--out", "made"], check=False, cwd=folder, env=environment, capture_output=True)
    assert run.returncode == 0, (one, run.stdout, run.stderr)
    made = folder / "made"
    files = [path for name in ("newer", "older") for path in sorted((made / name).rglob("*")) if path.is_file()]
    return {path.relative_to(made).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_one_hash_a_file(tmp_path: Path) -> None:
    """Every file of every format is byte for byte the same in all surroundings."""
    first: dict[str, str] = {}
    for number, one in enumerate(around(SEEDS)):
        found = hashes(one, tmp_path / str(number))
        if not first:
            first = found
            assert {Path(name).suffix for name in found} == KINDS
            first_made = tmp_path / "0" / one.folder / "made"
            manifest = json.loads((first_made / "newer" / "manifest.json").read_text("utf-8"))
            assert manifest["lights"]
            assert manifest["figures"]
            assert manifest["air"]
            assert manifest["camera"]
            assert manifest["casework"]
            assert manifest["wiring"]["runs"]
            assert (first_made / "older" / "panels" / "floor.dxf").read_bytes().count(b"AC1009") == 1
        assert list(found) == list(first)
        assert [name for name in first if found[name] != first[name]] == [], one


def test_the_surroundings_differ_in_all_they_say() -> None:
    """Four of them meet both values of each of the four, and every pair of values but for folder and zone."""
    four = around(4)
    for name in ("zone", "language", "folder", "jobs"):
        assert len({getattr(one, name) for one in four}) == 2
    assert len({one.seed for one in around(20)}) == 20
