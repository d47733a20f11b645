"""What is wrong where a scene file is not TOML, in words for somebody who never heard of TOML."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from pipeline.scene.problems import SceneFileError, refuse

_PLACE = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", re.DOTALL)
_VALUE = re.compile(r"\s*[^=#]*=\s*(.*?)\s*(?:#.*)?")
_UNIT = re.compile(r"[+-]?[0-9.]+\s*(mm|cm|m|in|ft)\b.*")
_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
TYPOGRAPHIC_QUOTES = "\u201c\u201d\u201e\u00ab\u2018\u2019"
_BARE_KEY = re.compile(r"\s*([A-Za-z0-9_-]+)")


def parse(text: str) -> dict[str, Any]:
    """Return a scene file's tables.

    Raises
    ------
    SceneFileError
        At the first place that is not TOML.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise explain(text, str(error)) from None


def explain(text: str, message: str) -> SceneFileError:
    """Return the parser's message as a placed problem with the remedy that most likely helps."""
    match = _PLACE.fullmatch(message)
    lines = text.split("\n")
    if match is None:
        return refuse(1, 1, "not a scene file", "TOML", "start from one: foreshorten begin NAME")
    if match[2] is None:
        line, column = _end(lines)
    else:
        line, column = int(match[2]), int(match[3])
    found, remedy = _words(match[1], lines[line - 1], column)
    if match[1].startswith(("Cannot", "Expected ']")):
        column = len(lines[line - 1]) - len(lines[line - 1].lstrip()) + 1
    elif match[1].startswith("Unescaped"):
        line, column = _two_back(lines, line, column)
    return refuse(line, column, found, "", remedy)


def _end(lines: list[str]) -> tuple[int, int]:
    """Return the place after the last character that is not white."""
    last = max((number for number, line in enumerate(lines, 1) if line.strip()), default=1)
    return last, len(lines[last - 1].rstrip()) + 1


def _two_back(lines: list[str], line: int, column: int) -> tuple[int, int]:
    """Return the place of the backslash: the parser stands behind the letter (or line end) that follows it."""
    return (line, column - 2) if column > 2 else (line - 1, len(lines[line - 2]))


def _words(message: str, line: str, column: int) -> tuple[str, str]:
    key = match[1] if (match := _BARE_KEY.match(line)) else "key"
    value = match[1] if (match := _VALUE.fullmatch(line)) else ""
    if message.startswith("Expected '=' after a key"):
        return "a key without a value", f'write key = value, as in {key} = 3 or {key} = "text"'
    if message.startswith(("Invalid value", "Expected newline")) and value:
        return _bad_value(key, value, line, column)
    if message.startswith("Invalid value"):
        return "no value after the =", f'write key = value, as in {key} = 3 or {key} = "text"'
    if message.startswith("Expected newline"):
        return "something follows where the line should end", "write one key = value on a line, comments after a #"
    if message.startswith("Expected ']"):
        return "a table's header is not closed", "write [name] for a table, [[name]] for one of several"
    if message.startswith("Cannot declare"):
        return "the table stands here for a second time", "join the two, or write [[name]] for one of several"
    if message.startswith("Cannot"):
        return "the key stands here for a second time, or is a value and a table at once", "keep one of them"
    if message.startswith("Unclosed array"):
        return "an array is not closed", "end it with ] and put commas between its items"
    if message.startswith("Unclosed inline table"):
        return "a table in braces is not closed on its line", "end it with } on the same line"
    if message.startswith(("Unterminated string", "Illegal character '\\n'")):
        return "text is not closed", 'end it with " on the same line'
    if message.startswith(("Illegal character", "Found invalid character")):
        return "an invisible character that a scene file cannot hold", "take it out"
    if message.startswith("Unescaped '\\'") or "hex" in message or "escape" in message.lower():
        return "a backslash that means nothing here", "write text with backslashes in single quotes: 'a\\b'"
    return f"not TOML: {message[0].lower()}{message[1:]}", "write one key = value on a line, comments after a #"


def _bad_value(key: str, value: str, line: str, column: int) -> tuple[str, str]:
    if _COMMA.fullmatch(value):
        return f"{value} is not a number", f"decimals have a point: {value.replace(',', '.')}"
    if _UNIT.fullmatch(value):
        return f"{_cut(value)} is not a number", f'a length with a unit stands in quotes: {key} = "{_cut(value)}"'
    if value.lower() in ("true", "false", "yes", "no", "on", "off"):
        word = "true" if value.lower() in ("true", "yes", "on") else "false"
        return f"{value} is not a value", f"write {key} = {word}"
    if re.fullmatch(r"[+-]?(\.[0-9]+|[0-9]+\.|0[0-9.]+)", value):
        return f"{value} is not a number", "write a digit before and after the point, and none too many: 0.5"
    if re.fullmatch(r"[^\W\d][^\"'\[\]{}=,]*", value):
        return f"{_cut(value)} is not a value", f'text stands in quotes: {key} = "{_cut(value)}"'
    if value[0] in TYPOGRAPHIC_QUOTES:
        return "typographic quotes", 'use the straight ones: "text"'
    return (
        f"{_cut(line[column - 1 :].strip()) or 'something'} does not belong here",
        "write one key = value on a line, comments after a #",
    )


def _cut(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "..."
