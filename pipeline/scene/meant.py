"""Which key a mistyped one was most likely meant to be, so that one slip is told once.

*Written* is a key's path as it stands in the file, *meant* the path the model knows it by. What is missing or
disagrees only because a key stands under another name is no second mistake.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from pipeline.elements.problems import KeyPath
from pipeline.scene.nearest import nearest
from pipeline.scene.tables import table_at
from pipeline.units import Table

MOST_LOOKED_AT = 200
"""Unknown keys of one file; more are no slips of the fingers."""


def meant_key(root: type[Table], path: KeyPath) -> str | None:
    """Return the known key that an unknown one is nearest to, or nothing if none is near."""
    table = table_at(root, path[:-1])
    return None if table is None else nearest(str(path[-1]), table.model_fields)


def written_by_meant(root: type[Table], data: dict[str, Any], unknown: Iterable[KeyPath]) -> dict[KeyPath, KeyPath]:
    """Return the written path of each key that the file lacks and has most likely under a mistyped name.

    Parameters
    ----------
    root
        The model of the whole file, or of the table that ``data`` is.
    data
        The parsed file.
    unknown
        Paths of the keys the model does not know.
    """
    out: dict[KeyPath, KeyPath] = {}
    for _, written in zip(range(MOST_LOOKED_AT), unknown, strict=False):
        key = meant_key(root, written)
        if key is not None and key not in _value(data, written[:-1]):
            out.setdefault((*written[:-1], key), written)
    return out


def as_meant(data: Any, written: dict[KeyPath, KeyPath]) -> Any:
    """Return a parsed file with its mistyped keys under the names they were meant as; the file itself stays."""
    for meant, path in written.items():
        data = _renamed(data, path, str(meant[-1]))
    return data


def _value(data: Any, path: KeyPath) -> Any:
    for part in path:
        data = data[part]
    return data


def _renamed(data: Any, path: KeyPath, key: str) -> Any:
    first, *rest = path
    if not rest:
        return {key if name == first else name: value for name, value in data.items()}
    inner = _renamed(data[first], tuple(rest), key)
    if isinstance(data, list):
        return [inner if number == first else item for number, item in enumerate(data)]
    return data | {first: inner}
