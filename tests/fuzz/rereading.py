"""Every file that a build writes, read again by programs that know nothing of ours.

Nothing here is an ``assert``: the same is tried under ``python -O``.

Terms
-----
shape
    What a file is made of, whatever is written in it: how often each tag, each attribute and each layer stands in it,
    and how many cells each row has. Names must not change it.
"""

from __future__ import annotations

import csv
import io
import json
import re
import struct
import tempfile
import xml.etree.ElementTree as ET
import zipfile
from collections import Counter
from collections.abc import Mapping
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import ezdxf
import PIL.Image
import pyogrio
import pypdf
import pypdfium2
import trimesh

from pipeline.units import WORDS_PATTERN
from tests.fuzz.judging import WrongError

try:
    import lib3mf
except ImportError:  # it has no wheel for every machine
    lib3mf = None

PLAIN_WORDS = re.compile(rf"{WORDS_PATTERN}(?:\n{WORDS_PATTERN})*")
"""Words and line ends, and nothing that is obeyed instead of read."""
PLAIN_FILE = re.compile(r"[a-z0-9][a-z0-9-]*(/[a-z0-9][a-z0-9-]*)*\.[a-z0-9]+")
PART = re.compile(r"[a-z0-9][a-z0-9-]*( [a-z0-9 ]+)?")
"""As things are called in files for printers and viewers."""
DEVICES = re.compile(r"(con|prn|aux|nul|clock|com[0-9]|lpt[0-9])", re.IGNORECASE)

Shape = Counter[tuple[str, str]]


def look_through(files: Mapping[str, bytes], title: str) -> Shape:
    """Read every file anew and return its shape, added up over all of a format.

    Raises
    ------
    WrongError
        If a name has become anything but words anywhere, a file is not what its ending says, or its name is one that
        some system could not write.
    """
    found: Shape = Counter()
    for name, content in files.items():
        if not PLAIN_FILE.fullmatch(name) or any(DEVICES.fullmatch(part.split(".")[0]) for part in name.split("/")):
            raise WrongError(f"{name!r} is no plain name of a file")
        suffix = name.rsplit(".", 1)[1]
        try:
            found.update((suffix, what) for what in READERS[suffix](content, title).elements())
        except WrongError as wrong:
            raise WrongError(f"{name}: {wrong}") from None
        except Exception as error:
            raise WrongError(f"{name}: {type(error).__name__}: {error}") from error
        found[suffix, "files"] += 1
    return found


def _dxf(content: bytes, title: str) -> Counter[str]:
    document = ezdxf.read(io.StringIO(content.decode("utf-8")))
    if document.audit().has_errors:
        raise WrongError("ezdxf finds errors")
    entities = list(document.modelspace())
    texts = [entity.dxf.text if entity.dxftype() == "TEXT" else entity.text for entity in document.query("TEXT MTEXT")]
    _plain(texts)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.dxf"
        path.write_bytes(content)
        table = pyogrio.raw.read(path)
    layers = table[3][list(table[0]["fields"]).index("Layer")]
    if len(layers) < len(entities):
        raise WrongError(f"GDAL reads {len(layers)} of {len(entities)} entities")
    return Counter(str(layer) for layer in layers if layer != "NOTES")


def _svg(content: bytes, title: str) -> Counter[str]:
    found: Counter[str] = Counter()
    for node in ET.fromstring(content).iter():
        tag = node.tag.rsplit("}", 1)[-1]
        if tag == "script" or any(key.startswith("on") or key.endswith("href") for key in node.attrib):
            raise WrongError(f"<{tag}> does something: {node.attrib}")
        if tag != "style":
            _plain([node.text or "", node.tail or ""])
        if tag not in ("text", "tspan", "rect"):  # a name that is too long for its place is broken, or left out
            found.update([tag, *(f"{tag} {key}" for key in node.attrib)])
    return found


def _pdf(content: bytes, title: str) -> Counter[str]:
    reader = pypdf.PdfReader(io.BytesIO(content), strict=True)
    wanted = title.replace("\xad", "")
    if reader.metadata is None or (reader.metadata.title or "") != wanted:
        raise WrongError(f"called {reader.metadata and reader.metadata.title!r}, not {wanted!r}")
    if re.search(rb"/(JavaScript|JS|OpenAction|Launch|URI)\b", content):
        raise WrongError("it does something")
    _plain([text.replace("\n", " ") for page in reader.pages if (text := page.extract_text())])
    other = pypdfium2.PdfDocument(content)
    pages = [other[number].get_textpage().get_text_range() for number in range(len(other))]
    other.close()
    if len(pages) != len(reader.pages) or not all(pages):
        raise WrongError("a page without words")
    return Counter()  # long names may take more pages


def _stl(content: bytes, title: str) -> Counter[str]:
    header = content[:80].decode("ascii").rstrip()
    if not header.isprintable() or header.startswith("solid"):
        raise WrongError(f"its header is {header!r}")
    count = int.from_bytes(content[80:84], "little")
    mesh = trimesh.load(io.BytesIO(content), file_type="stl")
    if len(content) != 84 + 50 * count or not mesh.is_watertight or not mesh.volume > 0:
        raise WrongError("it is no closed body")
    return Counter({"facet": count})


def _threemf(content: bytes, title: str) -> Counter[str]:
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        if package.namelist() != ["[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"]:
            raise WrongError(f"it holds {package.namelist()}")
        model = ET.fromstring(package.read("3D/3dmodel.model"))
    tags: Counter[str] = Counter(node.tag.rsplit("}", 1)[-1] for node in model.iter())
    said = [node.text for node in model.iter() if node.tag.endswith("metadata") and node.get("name") == "Title"]
    if said != [title]:
        raise WrongError(f"called {said}")
    names = [node.get("name", "") for node in model.iter() if node.tag.endswith("}object")]
    if not all(PART.fullmatch(name) for name in names):
        raise WrongError(f"objects called {names}")
    if lib3mf is not None:
        strict = lib3mf.get_wrapper().CreateModel()
        reader = strict.QueryReader("3mf")
        reader.SetStrictModeActive(True)
        reader.ReadFromBuffer(content)
        again = strict.GetMetaDataGroup().GetMetaDataByKey("", "Title").GetValue()
        if again != title or reader.GetWarningCount():
            raise WrongError(f"lib3mf reads {again!r}, {reader.GetWarningCount()} warnings")
    return tags


def _glb(content: bytes, title: str) -> Counter[str]:
    magic, version, length = struct.unpack_from("<4s2I", content)
    size, kind = struct.unpack_from("<I4s", content, 12)
    if (magic, version, length, kind) != (b"glTF", 2, len(content), b"JSON"):
        raise WrongError("no GLB")
    told = json.loads(content[20 : 20 + size], parse_constant=_no_number)
    names = [thing.get("name", "") for kind in ("nodes", "meshes") for thing in told[kind]]
    if not all(name == title or PART.fullmatch(name) for name in names):
        raise WrongError(f"parts called {names}")
    scene = trimesh.load(io.BytesIO(content), file_type="glb")
    return Counter({"node": len(told["nodes"]), "geometry": len(scene.geometry)})


def _csv(content: bytes, title: str) -> Counter[str]:
    rows = list(csv.reader(io.StringIO(content.decode("utf-8"), newline=""), strict=True))
    for cell in (cell for row in rows for cell in row):
        if cell[:1] in ("=", "+", "-", "@", "\t", "\r") and not re.fullmatch(r"[+-]?[0-9.]+", cell):
            raise WrongError(f"a spreadsheet would reckon {cell!r}")
    _plain([cell for row in rows for cell in row])
    return Counter(f"row of {len(row)}" for row in rows)


def _json(content: bytes, title: str) -> Counter[str]:
    told = json.loads(content, parse_constant=_no_number)
    if told["title"] != title:
        raise WrongError(f"called {told['title']!r}")
    return Counter({f"{key} of {len(value)}": 1 for key, value in told.items() if isinstance(value, list)})


def _png(content: bytes, title: str) -> Counter[str]:
    with PIL.Image.open(io.BytesIO(content)) as image:
        image.load()
        _plain([str(value) for value in image.info.values() if isinstance(value, str)])
        return Counter({image.mode: 1})


def _html(content: bytes, title: str) -> Counter[str]:
    found: Counter[str] = Counter()
    within, titles = [""], []

    class Tags(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found.update([tag, *(f"{tag} {name}" for name, _ in attrs)])
            within[0] = tag

        def handle_endtag(self, tag: str) -> None:
            within[0] = ""

        def handle_data(self, data: str) -> None:
            if within[0] == "title":
                titles.append(data)
            if within[0] not in ("script", "style"):
                _plain(data.split("\n"))

        def handle_decl(self, decl: str) -> None:
            found["!"] += 1

        def handle_comment(self, data: str) -> None:
            found["comment"] += 1

    Tags().feed(content.decode("utf-8"))
    if title not in "".join(titles):
        raise WrongError(f"called {''.join(titles)!r}")
    return found


def _plain(texts: list[str]) -> None:
    for text in texts:
        if not PLAIN_WORDS.fullmatch(text):
            raise WrongError(f"{text!r} holds what cannot be seen")


def _no_number(word: str) -> Any:
    raise WrongError(f"{word} stands in it")


READERS = {
    "dxf": _dxf, "svg": _svg, "pdf": _pdf, "stl": _stl, "3mf": _threemf, "glb": _glb, "csv": _csv, "json": _json,
    "png": _png, "html": _html,
}  # fmt: skip
