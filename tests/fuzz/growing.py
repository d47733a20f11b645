"""Random scenes of the right form: a good one with a few keys changed, any of those that the schema tells of."""

from __future__ import annotations

import copy
import itertools
import math
import random
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.elements.problems import KeyPath
from pipeline.scene.model import Scene
from pipeline.scene.tables import length_unit
from tests.fuzz.keys import Key, all_keys, choices, least, put
from tests.fuzz.mutating import HOSTILE_VALUES
from tests.fuzz.writing import Raw, to_toml
from tests.scene.scene_text import FULL, SMALL
from tests.scene_text import COVERED, DOOR, PLAIN

SCENES = Path(__file__).parents[2] / "scenes"
VAULTED = """
[vault]
form = "groin"
bays = 2
springing = 3.0
rise = 2.6
rib_width = 0.3
rib_depth = 0.25
"""
MESH = "box.stl"
"""The mesh file that scenes name; it lies beside them."""
EDGES = (0.0, 1e-6, 1e-3, 0.01, 0.02, 0.1, 0.5, 1.0, 2.0, 10.0, 89.9, 90.0, 180.0, 1000.0, 99_999.0, 1e6)
"""Numbers at which something may turn over."""


@cache
def demos() -> tuple[str, ...]:
    """Return the texts of the demo scenes."""
    return tuple(path.read_text(encoding="utf-8") for path in sorted(SCENES.glob("*.toml")))


QUICK = (SMALL, FULL, PLAIN, PLAIN + DOOR, COVERED + DOOR)
"""Scenes that are imagined in a few milliseconds, and built in a second."""
BUILT = (*QUICK, PLAIN + VAULTED)


def grown(rng: random.Random, texts: tuple[str, ...], most: int, wild: float) -> str:
    """Return one of the texts with up to ``most`` keys put in or changed, a share of them with wild values."""
    return to_toml(grown_tables(rng, copy.deepcopy(_parsed(rng.choice(texts))), rng.randint(1, most), wild))


def grown_tables(
    rng: random.Random, data: dict[str, Any], count: int, wild: float, broken: float = 0.0
) -> dict[str, Any]:
    """Put so many keys into the tables or change them there, and return them.

    ``wild`` is the share of numbers at which something may turn over, ``broken`` of values that no key should take.
    """
    kinds = list(_by_table())
    for _ in range(count):
        table = rng.choice([kind for kind in kinds if kind in data] if rng.random() < 0.5 else kinds)
        key = rng.choice(_by_table()[table])
        try:
            path, value = _aimed(rng, data, key, wild)
            put(data, path, Raw(rng.choice(HOSTILE_VALUES)) if rng.random() < broken else value)
        except (KeyError, IndexError, TypeError, LookupError):
            continue  # what is there already has another shape
    _tell_apart(data)
    return data


@cache
def _by_table() -> dict[str, list[Key]]:
    """Return the keys by the first word of their path."""
    tables: dict[str, list[Key]] = {}
    for key in all_keys():
        if "measured" not in key.path or len(tables.get("box", [])) < 8:  # else most of the box would be that
            tables.setdefault(str(key.path[0]), []).append(key)
    return tables


def _tell_apart(data: dict[str, Any]) -> None:
    """Give a number to each thing that has the name of one before it, and to each mesh the one file there is."""
    taken: set[str] = set()
    for tables in data.values():
        for table in tables if isinstance(tables, list) else []:
            if not isinstance(table, dict):
                continue
            table |= {key: MESH for key in ("file", "mesh") if key in table}
            if table.get("name") in taken:
                table["name"] = next(name for n in itertools.count() if (name := f"thing {n}") not in taken)
            taken.add(table.get("name", ""))


@cache
def _parsed(text: str) -> dict[str, Any]:
    return tomllib.loads(text)


def _aimed(rng: random.Random, data: dict[str, Any], key: Key, wild: float) -> tuple[KeyPath, Any]:
    """Return a place for a key among the tables that are there, and a value."""
    path = list(key.path)
    if path[0] in ("covers", "materials"):
        path[1] = rng.choice(list(data.get(str(path[0]), {})) or ["card"])
    elif len(path) > 2 and isinstance(path[1], int) and isinstance(data.get(str(path[0])), list):
        path[1] = rng.randrange(len(data[str(path[0])]) + 1)
    place = tuple(path)
    return place, _value(rng, data, key, _there(data, place), wild)


def _there(data: Any, path: KeyPath) -> Any:
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _value(rng: random.Random, data: dict[str, Any], key: Key, there: Any, wild: float) -> Any:
    choice = rng.choice([c for c in choices(key.schema) if c["type"] != "null"])
    if "enum" in choice:
        return rng.choice(choice["enum"])
    kind = choice["type"]
    if kind == "boolean":
        return rng.random() < 0.5
    if kind == "array":
        return _array(rng, key, choice, wild)
    if kind == "string" and not key.numeric:
        return _word(rng, data, key, choice)
    number = _number(rng, key, there, wild)
    if "integer" in key.kinds:
        return int(number)
    return f"{number:.6f} mm" if kind == "string" and rng.random() < 0.2 else number


def _array(rng: random.Random, key: Key, choice: dict[str, Any], wild: float) -> Any:
    items = choice["items"]
    if isinstance(items, list):
        return [_scalar(rng, key, item, wild) for item in items]
    count = rng.randint(choice.get("minItems", 0), min(choice.get("maxItems", 4), 4))
    return [_scalar(rng, key, items, wild) for _ in range(count)]


def _scalar(rng: random.Random, key: Key, schema: dict[str, Any], wild: float) -> Any:
    inner = Key(path=(*key.path, 0), schema=schema)
    if inner.numeric:
        number = _number(rng, inner, None, wild)
        return int(number) if "integer" in inner.kinds else number
    if "array" in inner.kinds:
        return _array(rng, inner, choices(schema)[0], wild)
    return least(schema)


def _number(rng: random.Random, key: Key, there: Any, wild: float) -> float:
    choice = next(c for c in choices(key.schema) if c["type"] in ("number", "integer"))
    low, high = float(choice.get("minimum", -1e6)), float(choice.get("maximum", 1e6))
    if rng.random() < wild:
        return float(f"{min(max(rng.choice((*EDGES, low, high)), low), high):.9g}")
    usual = there if isinstance(there, int | float) and not isinstance(there, bool) else key.schema.get("default")
    if not usual or isinstance(usual, str):
        usual = {"mm": 20.0, "m": 1.0}.get(length_unit(Scene, key.path), 2.0)
    number = float(usual) * math.exp(rng.gauss(0.0, 0.5)) * (-1 if low < 0 and rng.random() < 0.3 else 1)
    return float(f"{min(max(number, low), high):.6g}")


def _word(rng: random.Random, data: dict[str, Any], key: Key, choice: dict[str, Any]) -> str:
    last = str(key.path[-1])
    for ending, table in (("cover", "covers"), ("material", "materials")):
        if last.endswith(ending):
            return str(rng.choice([*data.get(table, {}), "card"]))
    return f"thing {rng.randint(1, 99)}" if "A-Za-z]" in choice.get("pattern", "") else str(least(key.schema))
