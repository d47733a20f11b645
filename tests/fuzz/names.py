"""Names that nobody gives a thing by chance, and what every written file must be like whatever things are called.

What is written is read again by readers that know nothing of the program. Nothing here is an ``assert``: the same is
tried under ``python -O``.
"""

# ruff: noqa: E501 - names by the line

from __future__ import annotations

import csv
import io
import json
import re
import sys
import xml.etree.ElementTree as ET
import zipfile
from collections import Counter
from collections.abc import Iterator, Mapping
from html.parser import HTMLParser

import ezdxf
import pypdf

from pipeline.build import build_scene
from pipeline.keeping.kept import Kept
from pipeline.scene.problems import SceneFileError
from pipeline.units import WORDS_PATTERN
from tests.fuzz.judging import WrongError, in_our_words
from tests.fuzz.keys import Key, all_keys, choices, scene_with
from tests.fuzz.writing import to_toml
from tests.scene_text import DOOR, PLAIN

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


PLAIN_WORDS = re.compile(rf"{WORDS_PATTERN}(?:\n{WORDS_PATTERN})*")
"""Words and line ends, and nothing that is obeyed instead of read."""

STEM = "room"
"""What a room without a title is called."""


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


def built_titles(titles: list[str]) -> Iterator[tuple[str, dict[str, bytes]]]:
    """Yield the files of a room with a door by each of the titles that are taken."""
    kept = Kept()
    for title in titles:
        data = {"title": title}
        text = to_toml(data) + PLAIN.replace('title = "A plain room"\n', "") + DOOR
        try:
            made = build_scene(text.encode("utf-8", "surrogatepass"), STEM, kept=kept)
        except SceneFileError as error:
            in_our_words(error, text.count("\n") + 1)
        else:
            yield title, made.files


def look_through(files: Mapping[str, bytes], title: str, tags: Counter[str]) -> None:
    """Read every file anew, and hold it against what a room called something harmless is like.

    ``tags`` are those of its page.

    Raises
    ------
    WrongError
        If the title has become anything but words anywhere.
    """
    for name, content in files.items():
        if not re.fullmatch(r"[a-z0-9][a-z0-9/_-]*\.[a-z0-9]+", name):
            raise WrongError(f"{name!r} is no plain name of a file")
        reader = READERS.get(name.rsplit(".", 1)[1])
        if reader is not None:
            reader(name, content, title)
    if tags_of(files["report.html"]) != tags:
        raise WrongError(f"report.html: {title!r} has made tags of its own")


def tags_of(page: bytes) -> Counter[str]:
    """Return how often each tag, and each attribute of a tag, stands in a page."""
    found: Counter[str] = Counter()

    class Tags(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found.update([tag, *(f"{tag} {name}" for name, _ in attrs)])

        def handle_decl(self, decl: str) -> None:
            found["!"] += 1

        def handle_comment(self, data: str) -> None:
            found["comment"] += 1

    Tags().feed(page.decode("utf-8"))
    return found


def _dxf(name: str, content: bytes, title: str) -> None:
    document = ezdxf.read(io.StringIO(content.decode("utf-8")))
    if document.audit().has_errors:
        raise WrongError(f"{name}: ezdxf finds errors")
    for entity in document.modelspace().query("TEXT MTEXT"):
        if not PLAIN_WORDS.fullmatch(entity.dxf.text):
            raise WrongError(f"{name}: {entity.dxf.text!r}")


def _svg(name: str, content: bytes, title: str) -> None:
    for node in ET.fromstring(content).iter():
        if node.tag.endswith("script") or any(key.startswith("on") for key in node.attrib):
            raise WrongError(f"{name}: a script")
        if node.text and node.text.strip() and not node.tag.endswith("style") and not PLAIN_WORDS.fullmatch(node.text):
            raise WrongError(f"{name}: {node.text!r}")


def _pdf(name: str, content: bytes, title: str) -> None:
    reader = pypdf.PdfReader(io.BytesIO(content), strict=True)
    wanted = title.encode("latin-1", "replace").decode("latin-1")
    if reader.metadata is None or (reader.metadata.title or "") != wanted:
        raise WrongError(f"{name}: called {reader.metadata and reader.metadata.title!r}, not {wanted!r}")
    if re.search(rb"/(JavaScript|JS|OpenAction|Launch|URI)\b", content):
        raise WrongError(f"{name}: it does something")
    if not all(page.extract_text() for page in reader.pages):
        raise WrongError(f"{name}: a page without words")


def _stl(name: str, content: bytes, title: str) -> None:
    header = content[:80]
    if not header.decode("ascii").rstrip().isprintable() or header.startswith(b"solid"):
        raise WrongError(f"{name}: {header!r}")
    if len(content) != 84 + 50 * int.from_bytes(content[80:84], "little"):
        raise WrongError(f"{name}: not as long as it says")


def _threemf(name: str, content: bytes, title: str) -> None:
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        if package.namelist() != ["[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"]:
            raise WrongError(f"{name}: {package.namelist()}")
        model = ET.fromstring(package.read("3D/3dmodel.model"))
    said = [node.text for node in model.iter() if node.tag.endswith("metadata") and node.get("name") == "Title"]
    if said != [title]:
        raise WrongError(f"{name}: called {said}")


def _csv(name: str, content: bytes, title: str) -> None:
    for row in csv.reader(io.StringIO(content.decode("utf-8"))):
        for cell in row:
            if cell[:1] in ("=", "+", "-", "@", "\t", "\r") and not re.fullmatch(r"[+-]?[0-9.]+", cell):
                raise WrongError(f"{name}: a spreadsheet would reckon {cell!r}")


def _json(name: str, content: bytes, title: str) -> None:
    if name == "manifest.json" and json.loads(content)["title"] != (title or STEM):
        raise WrongError(f"{name}: called {json.loads(content)['title']!r}")


READERS = {"dxf": _dxf, "svg": _svg, "pdf": _pdf, "stl": _stl, "3mf": _threemf, "csv": _csv, "json": _json}


def main(titles: list[str]) -> None:
    """Build and look through a room by each title; a fault ends it."""
    harmless = dict(built_titles(["A room"]))["A room"]
    tags = tags_of(harmless["report.html"])
    taken = 0
    for title, files in built_titles(titles):
        taken += 1
        look_through(files, title, tags)
    print(f"{taken} of {len(titles)} taken")  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1:] or list(NAMES))
