"""What is refused before a scene file is parsed, since parsing it would be slow or fail badly."""

from __future__ import annotations

import re

from pipeline.scene.problems import SceneFileError, refuse

MOST_BYTES = 1_000_000
MOST_NESTING = 12
"""Brackets within brackets; the format itself needs four. The parser recurses."""
MOST_DOTS = 12
"""Dots of one key; the format itself needs three. The parser takes time with the square of their number."""
MOST_DIGITS = 399
"""Of one number; Python refuses to read whole numbers of more than 4300."""

_TOKEN = re.compile(
    r'"""(?:[^"\\]++|\\.|"(?!""))*+(?:"""|\Z)'
    r"|'''.*?(?:'''|\Z)"
    r'|"(?:[^"\\\n]++|\\.)*+"?'
    r"|'[^'\n]*+'?"
    r"|#[^\n]*+"
    r"|[0-9_]{400,}+"
    r"|[\[\]{}.]"
    r"|[,=\n]++",
    re.DOTALL,
)
"""What matters for the limits: strings and comments (passed over), long numbers, brackets, dots, ends of keys."""


def decode(data: str | bytes) -> str:
    """Return a scene file's text, a byte order mark taken off.

    Raises
    ------
    SceneFileError
        If it is longer than ``MOST_BYTES`` or not UTF-8.
    """
    if isinstance(data, str):
        data = data.encode("utf-8", "surrogatepass")
    if len(data) > MOST_BYTES:
        raise refuse(1, 1, f"the file has {len(data)} bytes", f"at most {MOST_BYTES}", "is it a scene file?")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refuse(1, 1, "the file is saved as UTF-16", "UTF-8", 'save it again with the encoding "UTF-8"')
    try:
        return data.decode("utf-8").removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8").removeprefix("\ufeff")
        line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
        found = f"byte 0x{data[error.start]:02x} is not UTF-8 text"
        raise refuse(line, column, found, "UTF-8", 'save it again with the encoding "UTF-8"') from None


def refuse_costly(text: str) -> None:
    """Refuse text that is nested too deep, or has a key of too many dots or a number of too many digits.

    Raises
    ------
    SceneFileError
        At the first such place.
    """
    depth = dots = 0
    for match in _TOKEN.finditer(text):
        token = match[0]
        if token in ("[", "{"):
            depth += 1
            if depth > MOST_NESTING:
                raise _at(text, match.start(), f"brackets nested {depth} deep", f"at most {MOST_NESTING}", "close some")
        elif token in ("]", "}"):
            depth = max(0, depth - 1)
        elif token == ".":
            dots += 1
            if dots > MOST_DOTS:
                raise _at(text, match.start(), "a key of very many dots", f"at most {MOST_DOTS}", "is it a scene file?")
        elif token[0] in ",=\n":
            dots = 0
        elif token[0] in "0123456789_":
            raise _at(text, match.start(), f"a number of {len(token)} digits", f"at most {MOST_DIGITS}", "round it")


def _at(text: str, start: int, found: str, allowed: str, remedy: str) -> SceneFileError:
    before = text[:start]
    return refuse(before.count("\n") + 1, start - before.rfind("\n"), found, allowed, remedy)
