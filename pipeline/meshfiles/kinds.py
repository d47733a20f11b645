"""What a file is, by its first bytes, whatever its name says."""

from __future__ import annotations

import re
from pathlib import PurePosixPath

SIGNATURES = (
    (b"glTF", "GLB"),
    (b"ply\n", "PLY"),
    (b"ply\r", "PLY"),
    (b"PK\x03\x04", "a ZIP archive (as 3MF is)"),
    (b"PK\x05\x06", "a ZIP archive with nothing in it"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"%PDF", "a PDF"),
    (b"Kaydara FBX", "FBX"),
    (b"version https://git-lfs", "a Git LFS pointer, not the file itself"),
)
TEXT_STL = re.compile(rb"\s*solid\b[^\n]*\n\s*(facet|endsolid)\b", re.IGNORECASE)
TEXT_OBJ = re.compile(rb"(\s*(#[^\n]*|(mtllib|usemtl|o|g|s)\s[^\n]*)?\n)*\s*v\s+[-+.0-9]")
MARKUP = re.compile(rb"\s*(<\?xml|<!doctype|<html|<svg|<collada)", re.IGNORECASE)
STL_HEADER, STL_RECORD = 84, 50


def ending_of(name: str) -> str:
    """Return the ending of a file name, lower case, without its dot."""
    return PurePosixPath(name.replace("\\", "/")).suffix.lower().removeprefix(".")


def kind_of(data: bytes) -> str:
    """Return what the content is beyond doubt, as a word for a message; empty where it does not say."""
    for signature, kind in SIGNATURES:
        if data.startswith(signature):
            return kind
    start = data[:4096]
    if is_binary_stl(data) or TEXT_STL.match(start):
        return "STL"
    if MARKUP.match(start):
        return "XML or HTML"
    if TEXT_OBJ.match(start):
        return "OBJ"
    if start.lstrip().startswith(b"{"):
        return "JSON (as .gltf is; save it as GLB)"
    return ""


def is_binary_stl(data: bytes) -> bool:
    """Whether the file is just as long as its count of facets says."""
    if len(data) < STL_HEADER:
        return False
    return len(data) == STL_HEADER + STL_RECORD * int.from_bytes(data[80:84], "little")
