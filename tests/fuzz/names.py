"""Names that nobody gives a thing by chance, and the keys of a scene file at which something can be called so.

Nothing here is an ``assert``: the same is tried under ``python -O``.
"""

# ruff: noqa: E501 - names by the line

from __future__ import annotations

from collections.abc import Iterator

from pipeline.scene.problems import SceneFileError
from tests.fuzz.judging import WrongError, in_our_words
from tests.fuzz.keys import Key, all_keys, choices, scene_with
from tests.fuzz.writing import to_toml

_DEVICES = ("con", "CON", "prn", "aux", "nul", "NUL", "com1", "COM9", "lpt1", "LPT9", "con.txt", "aux.dxf", "nul ", "com0", "CONIN$", "clock$")  # fmt: skip
_UP = (
    "..", ".", "../up", "../../etc/passwd", "..\\up", "a/../../b", "/etc/passwd", "/", "~/x", "~root", "\\\\server\\share", "//server/share",
    "./a", "a/b", "a\\b", "....//", "%2e%2e%2f", "..%2f", "..;/", "a/./b", "-rf", "--out", "$(rm -rf x)", "`id`", "; rm x", "| cat", "&& x", "$HOME", "%PATH%", "*", "?", "a*b", "<", ">", "a>b",
)  # fmt: skip
_DRIVES = ("c:", "C:\\", "c:/x", "c:x", "\\\\?\\C:\\x", "\\\\.\\COM1", "a:b", "a:b:$DATA", "file:///etc/passwd", "http://example.org/", "javascript:alert(1)", "data:text/html,x")  # fmt: skip
_DOTS = (
    "a.",
    "a..",
    "a ",
    " a",
    "a. ",
    ".a",
    ".hidden",
    ".git",
    "...",
    " ",
    "",
    "\t",
    "a\t",
    "\u00a0",
    "a\u00a0",
    "\u3000a",
    "a\u2003b",
)
_ALIKE = (
    "pi\u0435r", "\u0440ier", "pier\u200b", "pi\u00ader", "pie\u0301r", "pi\u00e9r", "\uff50\uff49\uff45\uff52", "\u202erei\u0440", "p\u2010r", "\u2024\u2024", "\u2215a", "a\uff0fb", "\u29f8",
    "\u0131tem", "\u0130tem", "stra\u00dfe", "STRASSE", "\u212bngstrom", "\ufb01ne", "K\u212a", "\U0001d4d0", "\U0001f3f0", "\u6c34\u69fd", "\u0627\u0644", "\u05e9\u05dc", "\u200fx", "\u2066x\u2069", "\ufeffx", "x\ufffe", "x\uffff", "\ufff9x", "\U000e0041", "Z\u0351\u036b\u0343",
)  # fmt: skip
_CASE = (
    "Side Arch",
    "SIDE-ARCH",
    "side_arch",
    "side  arch",
    "side--arch",
    "Floor",
    "LEFT-WALL",
    "left wall",
    "Back_Wall",
    "front frame",
    "Ceiling",
    "manifest",
    "report",
    "templates",
    "prints",
)
_LONG = (
    "x" * 60,
    "x" * 61,
    "x" * 200,
    "x" * 201,
    "x" * 300,
    "x " * 150,
    "\u6c34" * 100,
    "\U0001f3f0" * 75,
    "1" * 300,
    "-" * 60,
    "_" * 60,
    "a" + "-" * 59,
    "e\u0301" * 100,
)
_CODES = (0, 1, 7, 8, 9, 10, 11, 12, 13, 27, 31, 127, 128, 133, 155, 159, 0x2028, 0x2029)
_CONTROLS = (*(f"a{chr(code)}b" for code in _CODES), "\r\n0\nEOF", "\n  0\nENDSEC")
_MARKUP = (
    "<b>x</b>", "<script>alert(1)</script>", "</title><script>x</script>", "<!--", "-->", "]]>", "<![CDATA[x]]>", "&amp;", "&lt;b&gt;", "&#60;", "\"onload=x", "' onmouseover='x", "<img src=x onerror=x>", "<svg/onload=x>",
    "{{ 7*7 }}", "{% raw %}", "${x}", "#{x}", "%s%n", "{0}", "{x!r}", "\\x", "\\", "\\P", "^J", "%%c", "%%u", "\\U+0041", "(a)", "a) Tj (b", "[x](y)", "<?xml?>", "<!DOCTYPE x>", "<!ENTITY x SYSTEM 'file:///x'>", "&x;",
)  # fmt: skip
_FORMULAS = (
    "=1+1",
    "=cmd|' /C calc'!A0",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    '=HYPERLINK("http://x")',
    "a,b",
    "a;b",
    'a"b',
    '"',
    "'=1",
    "|",
    "0x41",
    "1e5",
)
_TERMINAL = (
    "\x1b[2J",
    "\x1b]0;x\x07",
    "\x1b[31mred",
    "\x9b31m",
    "\x1bc",
    "\x1b[1A",
    "\x1b]8;;http://x\x1b\\",
    "\x08\x08\x08",
    "a\rb",
    "\x0e",
    "\x1bP+q\x1b\\",
)

NAMES: tuple[str, ...] = tuple(
    dict.fromkeys(
        (*_DEVICES, *_UP, *_DRIVES, *_DOTS, *_ALIKE, *_CASE, *_LONG, *_CONTROLS, *_MARKUP, *_FORMULAS, *_TERMINAL)
    )
)

FREE = {
    "title",
    "work.currency",
    "clashes[0].reason",
    "clashes[0].instead",
    "meshes[0].file",
    "figures[0].mesh",
    "wiring.battery",
}
"""Keys that hold words of any letters; all others hold names of files, or names that lead to one."""
UNSEEN = {chr(code) for code in (*range(32), *range(127, 160), 0x2028, 0x2029, 0x202E, 0x2066, 0xFEFF, 0xFFFE, 0xFFFF)}
SIGNS = set("/\\:.*?<>|$`;&\"'")


def name_places() -> Iterator[Key]:
    """Yield every key of a scene file that holds text of one's own, as the schema tells."""
    for key in all_keys():
        if not key.numeric and any(
            choice["type"] == "string" and "enum" not in choice for choice in choices(key.schema)
        ):
            yield key


def said_of_name(key: Key, name: str) -> list[str]:
    """Return what is said of a scene that calls something so at a key; nothing where it is taken.

    Raises
    ------
    WrongError
        If it is said in words that a terminal would obey.
    """
    from pipeline.scene.read import read_scene

    text = to_toml(scene_with(key.path, name))
    try:
        read_scene(text)
    except SceneFileError as error:
        return in_our_words(error, text.count("\n") + 1)
    return []


def look_at_names(key: Key, names: tuple[str, ...] = NAMES) -> int:
    """Give a key each name: where it makes files a name is letters, digits, spaces, hyphens and underscores; elsewhere
    it can be seen. Return how many are taken.

    Raises
    ------
    WrongError
        If another is taken.
    """
    taken = 0
    for name in names:
        if said_of_name(key, name):
            continue
        taken += 1
        if set(name) & UNSEEN or (key.name not in FREE and not (name.isascii() and not set(name) & SIGNS)):
            raise WrongError(f"{key.name}: {name!r} is taken")
    return taken
