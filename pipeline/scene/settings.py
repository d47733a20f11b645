"""Values set over the file's own, as by ``--set eye.distance=380``."""

from __future__ import annotations

import copy
import re
import tomllib
from typing import Any

from pipeline.elements.problems import KeyPath, Problem
from pipeline.scene.limits import MOST_DOTS, refuse_costly
from pipeline.scene.problems import PlacedProblem, SceneFileError
from pipeline.scene.values import show, show_path

Override = tuple[str, str]
"""A key's path as a person writes it, ``columns[2].diameter`` (counting from 1), and the value's text."""

_PART = re.compile(r'([A-Za-z0-9_-]+|"[^"]*")((?:\[[0-9]{1,6}\])*)')
LONGEST_SETTING = 2000


class SettingError(ValueError):
    """A setting that leads nowhere; the text says why, ``remedy`` what to do."""

    def __init__(self, found: str, remedy: str) -> None:
        super().__init__(found)
        self.remedy = remedy


def setting_text(override: Override) -> str:
    """Return an override as it was given, shortened and on one line."""
    text = "".join(letter if letter.isprintable() else " " for letter in "=".join(override))
    return text if len(text) <= 80 else text[:77] + "..."


def parse_key(text: str) -> KeyPath:
    """Return the path of a key written as ``columns[2].at[1]``; numbers count from 1, the path from 0.

    Raises
    ------
    SettingError
        If it is not a path.
    """
    path: list[str | int] = []
    at = 0
    while len(path) <= 2 * MOST_DOTS:
        match = _PART.match(text, at)
        if match is None:
            break
        path.append(match[1].strip('"'))
        numbers = [int(number) for number in re.findall(r"[0-9]+", match[2])]
        if 0 in numbers:
            raise SettingError("0 numbers nothing in a key", "the first of several is [1]")
        path += [number - 1 for number in numbers]
        at = match.end()
        if at == len(text):
            return tuple(path)
        if text[at] != ".":
            break
        at += 1
    raise SettingError(f"{show(text)} is not a key", "write it as in eye.distance=380 or columns[2].diameter=0.4")


def parse_value(text: str) -> Any:
    """Return the TOML value a text spells; text that spells none stands for itself, so quotes may be left out."""
    try:
        refuse_costly(text)
        table = tomllib.loads(f"value = {text}")
    except (tomllib.TOMLDecodeError, SceneFileError):
        return text
    return table["value"] if list(table) == ["value"] else text


def apply_settings(
    data: dict[str, Any], overrides: list[Override]
) -> tuple[dict[str, Any], dict[KeyPath, str], list[PlacedProblem]]:
    """Return the file's tables with the values put in, what put each there, and the settings that lead nowhere."""
    out = copy.deepcopy(data) if overrides else data
    origins: dict[KeyPath, str] = {}
    problems: list[PlacedProblem] = []
    for override in overrides:
        try:
            if len("=".join(override)) > LONGEST_SETTING:
                raise SettingError("the setting is too long", "write it into the file")
            path = parse_key(override[0])
            _put(out, path, parse_value(override[1]))
            origins[path] = setting_text(override)
        except SettingError as error:
            problem = Problem(path=(), found=str(error), allowed="", remedy=error.remedy)
            problems.append(PlacedProblem(problem=problem, line=1, column=1, setting=setting_text(override)))
    return out, origins, problems


def origin_of(origins: dict[KeyPath, str], path: KeyPath) -> str:
    """Return the setting that a value at ``path`` came from, or an empty text."""
    return next((origins[path[:end]] for end in range(len(path), 0, -1) if path[:end] in origins), "")


def _put(data: dict[str, Any], path: KeyPath, value: Any) -> None:
    here: Any = data
    for number, key in enumerate(path):
        before = show_path(path[:number])
        if isinstance(key, int):
            if not isinstance(here, list):
                found = f"{before} is not an array, and has no {show_path(path[: number + 1])}"
                raise SettingError(found, "leave the number out")
            if key >= len(here):
                found = f"there is no {show_path(path[: number + 1])}: {before} has {len(here)}"
                raise SettingError(found, "add it to the file first, or take another number")
        elif not isinstance(here, dict):
            several = f"write {before}[1], {before}[2], ..."
            remedy = several if isinstance(here, list) else f"set {before} itself"
            raise SettingError(f"{before} is not a table", remedy)
        elif key not in here and number + 1 < len(path):
            if isinstance(path[number + 1], int):
                found = f"there is no {show_path(path[: number + 2])}: the file has no {key}"
                raise SettingError(found, "add it to the file first")
            here[key] = {}
        if number + 1 == len(path):
            here[key] = value
        else:
            here = here[key]
