"""The model's refusals in words of the scene file."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from pydantic_core import ErrorDetails

from pipeline.elements.problems import KeyPath, Problem
from pipeline.scene.meant import meant_key, written_by_meant
from pipeline.scene.nearest import nearest
from pipeline.scene.tables import describe_key, holds_tables, homes_of, length_unit, names_tables, table_at
from pipeline.scene.values import show, show_choices, show_path
from pipeline.units import NAME_PATTERN, WORDS_PATTERN, Table

MOST_SHOWN = 200
"""Problems of one file; more are the same slip many times over."""


def word_all(root: type[Table], data: dict[str, Any], errors: list[ErrorDetails]) -> list[Problem]:
    """Return one problem for each key that was refused, at most ``MOST_SHOWN``."""
    problems: dict[KeyPath, Problem] = {}
    paths = [clean_path(data, error) for error in errors]
    below = {path[:end] for path in paths for end in range(len(path))}
    slips = mistyped(root, data, errors)
    for path, error in zip(paths, errors, strict=True):
        if error["type"] in ("too_short", "too_long") and path in below:
            continue  # the count is short only of the items refused one by one
        if path in slips:
            continue  # missing, and told where it stands under a mistyped name
        if path not in problems:
            problems[path] = word(root, path, error, _value_at(data, path, error["input"]))
        if len(problems) == MOST_SHOWN:
            break
    return list(problems.values())


def mistyped(root: type[Table], data: dict[str, Any], errors: list[ErrorDetails]) -> dict[KeyPath, KeyPath]:
    """Return, by the path it was meant as, where each mistyped key is written whose right name is not there."""
    unknown = (clean_path(data, error) for error in errors if error["type"] == "extra_forbidden")
    return written_by_meant(root, data, unknown)


def clean_path(data: Any, error: ErrorDetails) -> KeyPath:
    """Return the error's path in the file: choices of the model taken out, a missing item of an array cut off."""
    path: list[str | int] = []
    here = data
    for number, part in enumerate(error["loc"]):
        if _has(here, part):
            here = here[part]
        elif not (isinstance(here, dict) and error["type"] == "missing" and number == len(error["loc"]) - 1):
            continue
        path.append(part)
    return tuple(path)


def _has(here: Any, part: str | int) -> bool:
    if isinstance(here, list):
        return isinstance(part, int) and part < len(here)
    return isinstance(here, dict) and part in here


def _value_at(data: Any, path: KeyPath, default: Any) -> Any:
    """Return what the file holds, since a refusal may show what a length was already turned into."""
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return default
    return data


def word(root: type[Table], path: KeyPath, error: ErrorDetails, value: Any) -> Problem:
    """Return one refusal as a problem; ``value`` is what the file holds."""
    kind, context = error["type"], error.get("ctx", {})
    if kind == "missing":
        return _missing(root, path, error)
    if kind == "extra_forbidden":
        return _unknown(root, path)
    if path == ("format",):
        remedy = "write format = 1"
        return Problem(path=path, found=f"{show(value)} is no format this program reads", allowed="1", remedy=remedy)
    if "wanted" in context:
        found = f"{show(value)} is not {context['wanted']}"
        return Problem(path=path, found=found, allowed=context["allowed"], remedy=context["remedy"])
    if kind in ("literal_error", "enum"):
        return _choice(path, value, re.findall(r"'([^']*)'", str(context.get("expected", ""))))
    if kind in _TABLES or kind in _ARRAYS:
        return _shape(root, path, kind, value)
    if kind in _BOUNDS:
        unit = length_unit(root, path)
        allowed = _BOUNDS[kind](*(f"{limit:.12g}" for limit in context.values())) + (f" {unit}" if unit else "")
        remedy = described(root, path, f"give another {_noun(path)}")
        return Problem(path=path, found=f"{show(value)} is out of bounds", allowed=allowed, remedy=remedy)
    if kind in ("too_short", "too_long"):
        return _count(root, path, value, context)
    if kind == "string_pattern_mismatch":
        return _pattern(path, value, str(context.get("pattern", "")))
    if kind in ("string_too_short", "string_too_long"):
        limit = next(iter(context.values()))
        allowed = f"{'at least' if kind.endswith('short') else 'at most'} {limit} character{'' if limit == 1 else 's'}"
        remedy = "write more" if kind.endswith("short") else "shorten it"
        return Problem(path=path, found=f"{show(value)} has {len(value)} characters", allowed=allowed, remedy=remedy)
    return _other(root, path, error, value)


_TABLES = {"model_type", "model_attributes_type", "dict_type", "dataclass_type"}
_ARRAYS = {"list_type", "tuple_type"}
_WORDS = {
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a finite number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "int_parsing_size": "a believable number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "string_type": "text",
}
_BOUNDS: dict[str, Callable[..., str]] = {
    "greater_than": lambda limit: f"above {limit}",
    "greater_than_equal": lambda limit: f"{limit} or more",
    "less_than": lambda limit: f"below {limit}",
    "less_than_equal": lambda limit: f"at most {limit}",
    "multiple_of": lambda limit: f"multiples of {limit}",
}


def _missing(root: type[Table], path: KeyPath, error: ErrorDetails) -> Problem:
    if isinstance(error["loc"][-1], int):
        return Problem(
            path=path, found="too few items", allowed="", remedy=described(root, path, "add the missing ones")
        )
    wanted, about = f"{path[-1]} = ...", describe_key(root, path)
    if table_at(root, path) is not None:
        wanted = f"the table [{show_path(path)}]"
    elif names_tables(root, path):
        wanted = f"the table [{show_path(path)}.NAME]"
    remedy = f"add {wanted}" + (f": {about}" if about else "")
    return Problem(path=path, found="missing", allowed="", remedy=remedy)


def _unknown(root: type[Table], path: KeyPath) -> Problem:
    table = table_at(root, path[:-1])
    known = list(table.model_fields) if table is not None else []
    guess = meant_key(root, path)
    homes = homes_of(root, str(path[-1]))
    if guess is not None:
        remedy = f"did you mean {guess}?"
    elif homes:
        remedy = f"put it below the header {' or '.join(homes)}"
    else:
        remedy = "take it out"
    return Problem(path=path, found="unknown key", allowed=", ".join(known), remedy=remedy)


def _choice(path: KeyPath, value: Any, choices: list[str]) -> Problem:
    guess = nearest(value, choices) if isinstance(value, str) else None
    remedy = f'did you mean "{guess}"?' if guess is not None else "take one of these"
    return Problem(
        path=path, found=f"{show(value)} is none of the choices", allowed=show_choices(choices), remedy=remedy
    )


def _shape(root: type[Table], path: KeyPath, kind: str, value: Any) -> Problem:
    name = show_path(path)
    if kind in _TABLES:
        if isinstance(value, list) and path and isinstance(path[-1], str):
            remedy = f"write its header with one pair of brackets: [{name}]"
            return Problem(path=path, found="several tables where one is wanted", allowed="one table", remedy=remedy)
        header = f"[{name}.NAME]" if names_tables(root, path) else f"[{name}]"
        inline = any(isinstance(part, int) for part in path)
        remedy = "write { key = value, ... }" if inline else f"write {header}, and its keys on the lines below"
        return Problem(path=path, found=f"{show(value)} is not a table", allowed="", remedy=remedy)
    if holds_tables(root, path):
        found = "one table where several are wanted" if isinstance(value, dict) else f"{show(value)} is not a table"
        remedy = f"write [[{name}]] with two pairs of brackets, once for each"
        return Problem(path=path, found=found, allowed="", remedy=remedy)
    remedy = described(root, path, "put the values between [ and ], with commas")
    return Problem(path=path, found=f"{show(value)} is not an array", allowed="values in [ ]", remedy=remedy)


def _count(root: type[Table], path: KeyPath, value: Any, context: dict[str, Any]) -> Problem:
    held = len(value) if hasattr(value, "__len__") else 0
    low, high = context.get("min_length"), context.get("max_length")
    allowed = f"at least {low}" if high is None else f"at most {high}"
    if names_tables(root, path) and held == 0:
        remedy = f"add a table [{show_path(path)}.NAME]"
        return Problem(path=path, found="nothing stands here", allowed=allowed, remedy=remedy)
    found = f"{held} item{'' if held == 1 else 's'}"
    remedy = described(root, path, "add some" if held < (low or 0) else "take some out")
    return Problem(path=path, found=found, allowed=allowed, remedy=remedy)


def _pattern(path: KeyPath, value: Any, pattern: str) -> Problem:
    if NAME_PATTERN in pattern:
        return bad_name(path, str(value))
    if WORDS_PATTERN in pattern:
        found = f"{show(value)} holds characters that cannot be seen"
        allowed, remedy = "letters, digits, signs and spaces on one line", "delete the text and type it anew"
        return Problem(path=path, found=found, allowed=allowed, remedy=remedy)
    allowed, remedy = "# and six digits of 0 to 9 and A to F", 'write it as in "#009E73"'
    return Problem(path=path, found=f"{show(value)} is not a colour", allowed=allowed, remedy=remedy)


def bad_name(path: KeyPath, name: str) -> Problem:
    """Return the problem of a name that makes no safe file name."""
    allowed = "a letter, then up to 59 letters of A to Z, digits, spaces, hyphens and underscores"
    remedy = "give it a plainer name; title may be anything"
    return Problem(path=path, found=f"{show(name)} is not a name that can name files", allowed=allowed, remedy=remedy)


def _other(root: type[Table], path: KeyPath, error: ErrorDetails, value: Any) -> Problem:
    context = error.get("ctx", {})
    if error["type"] in _WORDS:
        wanted = _WORDS[error["type"]]
        remedy = "put it in quotes" if wanted == "text" else described(root, path, f"write {wanted}")
        return Problem(path=path, found=f"{show(value)} is not {wanted}", allowed="", remedy=remedy)
    found = str(context.get("found", error["msg"]))
    remedy = str(context.get("remedy", "")) or described(root, path, "change it")
    return Problem(path=path, found=found, allowed=str(context.get("allowed", "")), remedy=remedy)


def described(root: type[Table], path: KeyPath, otherwise: str) -> str:
    """Return what the key is for, which tells what to write; where the model says nothing of it, other words."""
    about = describe_key(root, path)
    if not about:
        return otherwise
    return f"write here: {about[0].lower() if about[1:2].islower() else about[0]}{about[1:]}"


def _noun(path: KeyPath) -> str:
    return next((str(part) for part in reversed(path) if isinstance(part, str)), "value")
