"""Whatever is given on the command line, what is said of it can be shown: on stdout, on stderr, and as JSON.

Nothing here is an ``assert``: the same is tried under ``python -O``.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

from pipeline.cli import main
from tests.fuzz.judging import WrongError
from tests.fuzz.names import NAMES
from tests.scene_text import PLAIN

ROOM = "room.toml"
CALLS: dict[str, Callable[[str], list[str]]] = {
    "a command": lambda name: [name],
    "an option": lambda name: ["build", ROOM, "-n", f"--{name}"],
    "a scene": lambda name: ["inspect", name],
    "a scene to build": lambda name: ["build", "-n", name, ROOM + "x"],
    "a key": lambda name: ["inspect", ROOM, "--set", f"{name}=1"],
    "a value": lambda name: ["inspect", ROOM, "--json", "--set", f"eye.distance=x{name}"],
    "a setting": lambda name: ["inspect", ROOM, "--set", f"{name}x"],
    "a number of jobs": lambda name: ["inspect", ROOM, "--jobs", f"{name}x"],
    "a material": lambda name: ["coupon", f"{name}x", "--scene", ROOM],
    "a reading": lambda name: ["coupon", "foam", "--scene", ROOM, "--read", f"{name}x"],
    "a part": lambda name: ["cut", "exports/room", name],
    "a built folder": lambda name: ["cut", name, "floor"],
    "two folders": lambda name: ["compare", name, "exports/room"],
    "a mesh": lambda name: ["warp", name, "--scene", ROOM],
    "a place": lambda name: ["warp", "mesh.stl", "--scene", ROOM, f"--at={name}x"],
    "a relief": lambda name: ["warp", "mesh.stl", "--scene", name],
    "a box": lambda name: ["begin", "x", f"--box={name}x"],
    "a new scene": lambda name: ["begin", "-n", "--box", "180x150x85", name],
    "a paper": lambda name: ["begin", "x", f"--paper={name}"],
    "a scene to look into": lambda name: ["depth", name],
    "a seed": lambda name: ["nest", ROOM, f"--seed={name}x"],
    "a swept key": lambda name: ["sweep", ROOM, "--json", f"--set={name}=1,2"],
    "swept values": lambda name: ["sweep", ROOM, f"--set=eye.height=x{name},"],
    "a port": lambda name: ["live", ROOM, f"--port={name}x"],
    "a shell": lambda name: ["completion", name],
}
"""Ways to give a name; none of them builds anything."""


def look_at_all(names: Iterable[str], folder: Path) -> int:
    """Give each name in each way, in a folder with a scene, and hold what is said to being plain; return how many.

    Raises
    ------
    WrongError
        If a terminal would obey any of it, or the program has a fault.
    """
    (folder / ROOM).write_text(PLAIN)
    (folder / "mesh.stl").write_bytes(b"x")
    (folder / "exports" / "room").mkdir(parents=True)
    count = 0
    with contextlib.chdir(folder):
        for what, call in CALLS.items():
            for name in names:
                _look_at(what, name, call(name))
                count += 1
    return count


def _look_at(what: str, name: str, arguments: list[str]) -> None:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code: object = main(arguments)
        except SystemExit as leaving:
            code = leaving.code
    said = out.getvalue() + err.getvalue()
    if code not in (0, 2) or not said or not said.replace("\n", "").isprintable():
        raise WrongError(f"{what} called {name!r}: exit code {code}, {said[-300:]!r}")
    if "--json" in arguments and out.getvalue():
        json.loads(out.getvalue())


if __name__ == "__main__":
    os.environ["COLUMNS"] = "200"
    with tempfile.TemporaryDirectory() as place:
        print(look_at_all(sys.argv[1:] or NAMES, Path(place)), "said plainly")  # noqa: T201
