"""A small room of every written format in which as much as can be is called by one hostile name, built and read again.

python -O -m tests.fuzz.named_rooms --all

gives every key of a scene file every name, and builds a room for each; ``--some 3`` takes so many of both by chance.
Nothing here is an ``assert``: ``python -O`` takes every assert out, and nothing may rest on one.
"""

from __future__ import annotations

import argparse
import copy
import random
import sys
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from pipeline.build import build_scene
from pipeline.elements.problems import KeyPath
from pipeline.keeping.kept import Kept
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene
from tests.fuzz.judging import WrongError, in_our_words, mesh_file, small_pictures
from tests.fuzz.names import NAMES, look_at_names, name_places
from tests.fuzz.rereading import Shape, look_through
from tests.fuzz.tiny import together
from tests.fuzz.writing import to_toml

PIECES = ("bricks", "flags", "hole", "column", "figure", "mesh", "lit", "boards", "air", "camera")
"""Together they are written in all ten formats."""
WORDS: tuple[KeyPath, ...] = (
    ("title",), ("work", "currency"), ("clashes", 0, "reason"), ("clashes", 0, "instead"), ("wiring", "battery"),
    ("stuff", "felt", "kinds", 0), ("stuff", "felt", "also", 0),
)  # fmt: skip
"""Where all may be called by one name, since nothing is looked up by it."""
THINGS: tuple[KeyPath, ...] = (
    ("openings", 0, "name"), ("openings", 1, "name"), ("columns", 0, "name"), ("figures", 0, "name"),
    ("meshes", 0, "name"), ("lights", 0, "name"),
)  # fmt: skip
"""Only one of them may be called so: each in its turn."""
TABLES = (("materials", "card"), ("covers", "brick"), ("stuff", "felt"), ("air", "paints", "brick"))
"""Names of tables, likewise; what else leads to them is called so too."""
STEM = "room"
"""What a room without a title is called."""
HARMLESS = "A room"


def plain_room() -> dict[str, Any]:
    """Return the tables of the room, all in it called something harmless."""
    data = together(list(PIECES))
    data["title"] = HARMLESS
    data["work"] = {"currency": "EUR", "glue": "felt"}
    data["stuff"] = {"felt": {"kinds": ["cloth"], "also": ["wool"], "density": 0.2}}
    data["clashes"] = [{"pair": ["felt", "card"], "severity": "weak", "reason": "it frays", "instead": "paste"}]
    data["materials"]["card"] |= {"of": "card", "price": 1.0}
    data["air"]["paints"] = {"brick": "#7D4A38"}
    return data


def ways() -> Iterator[tuple[KeyPath, ...]]:
    """Yield the places that are called by a name together: all words, and of things and tables one each time."""
    for place in (*THINGS, *TABLES, ("meshes", 0, "file")):
        yield (*WORDS, place)


def called(name: str, places: tuple[KeyPath, ...]) -> tuple[dict[str, Any], int]:
    """Return the room's tables with a name wherever it is taken, and how often it is.

    Raises
    ------
    WrongError
        If it is refused in words that a terminal would obey.
    """
    data, taken = plain_room(), 0
    for place in places:
        tried = copy.deepcopy(data)
        _call(tried, place, name)
        text = to_toml(tried)
        try:
            read_scene(text)
        except SceneFileError as error:
            in_our_words(error, text.count("\n") + 1)
        else:
            data, taken = tried, taken + 1
    return data, taken


def _call(data: dict[str, Any], place: KeyPath, name: str) -> None:
    here: Any = data
    for part in place[:-1]:
        here = here[part]
    last = place[-1]
    if place not in TABLES:
        here[last] = f"{name}.stl" if last == "file" else name
        return
    if name != last and name in here:
        return
    here[name] = here.pop(last)
    for old in (last,) if place[0] != "air" else ():
        for table in ("left", "right", "back", "floor", "ceiling", "front", "work"):
            for key, value in data.get(table, {}).items():
                if value == old and key in ("cover", "material", "glue"):
                    data[table][key] = name
        if place[0] == "stuff":
            data["clashes"][0]["pair"][0] = name


MESHES = (("meshes", "file"), ("figures", "mesh"))
"""Tables and keys that name files of meshes."""


def built(data: Mapping[str, Any], kept: Kept) -> dict[str, bytes] | None:
    """Return the files of a room; nothing where it is refused.

    Raises
    ------
    WrongError
        If it is refused in words that a terminal would obey.
    """
    text = to_toml(dict(data))
    files = {table[key]: mesh_file() for kind, key in MESHES for table in data.get(kind, []) if key in table}
    try:
        with small_pictures():
            return dict(build_scene(text.encode("utf-8", "surrogatepass"), STEM, (), files, kept=kept).files)
    except SceneFileError as error:
        in_our_words(error, text.count("\n") + 1)
        return None


def look_at_rooms(names: list[str], every_way: bool) -> Counter[str]:
    """Build a room for each name, and, of a name that things can be called by, one for every way; count all.

    Raises
    ------
    WrongError
        If a name has changed anything but words.
    """
    counts: Counter[str] = Counter()
    kept = Kept()
    shape = shape_of(plain_room(), kept)
    for number, name in enumerate(names):
        all_ways = list(ways())
        some = [way for way in all_ways if called(name, way[-1:])[1]] if every_way else []
        for way in some or [all_ways[number % len(all_ways)]]:
            data, taken = called(name, way)
            counts["places"] += taken
            if not taken:
                counts["refused"] += 1
                continue
            found = shape_of(data, kept)
            if found is None:
                counts["refused"] += 1
                continue
            counts["built"] += 1
            counts["files"] += sum(count for (_, what), count in found.items() if what == "files")
            if shape is None or (differing := unlike(found, shape)):
                raise WrongError(f"{name!r} at {way[-1]}: {differing}")
    return counts


def shape_of(data: Mapping[str, Any], kept: Kept) -> Shape | None:
    """Return the shape of what is built of a room; nothing where it is refused."""
    files = built(data, kept)
    return None if files is None else look_through(files, data["title"] or STEM)


def unlike(one: Shape, other: Shape) -> dict[tuple[str, str], tuple[int, int]]:
    """Return what stands in two rooms not equally often."""
    return {what: (one[what], other[what]) for what in (one | other) if one[what] != other[what]}


def main() -> int:
    """Try what the arguments ask for; a fault ends it."""
    parser = argparse.ArgumentParser(prog="python -O -m tests.fuzz.named_rooms", description=__doc__)
    parser.add_argument("--all", action="store_true", help="every name at every key, and a room for each")
    parser.add_argument("--some", type=int, default=3, help="rooms and keys, by chance")
    parser.add_argument("--seed", type=int, default=1, help="of that chance")
    given = parser.parse_args()
    chance = random.Random(given.seed)
    names, keys = list(NAMES), list(name_places())
    if not given.all:
        names, keys = chance.sample(names, given.some), chance.sample(keys, given.some)
    taken = sum(look_at_names(key) for key in keys)
    print(f"{len(keys)} keys, {len(NAMES)} names each, {taken} taken", flush=True)  # noqa: T201
    counts = look_at_rooms(names, every_way=given.all)
    print(f"{len(names)} names: {', '.join(f'{count} {what}' for what, count in sorted(counts.items()))}")  # noqa: T201
    return 0


if __name__ == "__main__":
    sys.exit(main())
