"""The floor of a build: what numpy, zlib, printf and the disk alone need for files like those it wrote.

What the files say is taken apart beforehand, unmeasured: the numbers of texts, the floats of meshes, the pixels of
pictures, what archives and PDF streams hold. Measured is only what no writer can do without: numbers made text, bytes
deflated as hard as the program does it, files written and flushed.
"""

from __future__ import annotations

import io
import os
import re
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

from pipeline.exports import pdf, png, threemf

Writer = Callable[[], bytes]

NUMBER = re.compile(rb"-?\d+\.\d+")
STREAM = re.compile(rb"stream\r?\n(.*?)endstream", re.DOTALL)


def floor(folder: Path, out: Path) -> Callable[[], int]:
    """Return a function that writes files like those of a built folder with raw writers, and tells how many bytes."""
    writers = {path.relative_to(folder): _writer(path.suffix, path.read_bytes()) for path in _files(folder)}

    def write() -> int:
        total = 0
        for name, writer in writers.items():
            target = out / name
            target.parent.mkdir(parents=True, exist_ok=True)
            with target.open("wb") as file:
                total += file.write(writer())
                file.flush()
                os.fsync(file.fileno())
        return total

    return write


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def _writer(suffix: str, data: bytes) -> Writer:
    if suffix in (".dxf", ".svg", ".csv"):
        return _text(data)
    if suffix == ".stl":
        rows = np.frombuffer(data, dtype=[("floats", "<f4", 12), ("count", "<u2")], offset=84)
        return lambda: data[:84] + rows.tobytes()
    if suffix == ".png":
        pixels = np.asarray(Image.open(io.BytesIO(data)))
        return lambda: zlib.compress(pixels.tobytes(), png.LEVEL)
    if suffix == ".3mf":
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            texts = [package.read(name) for name in package.namelist()]
        return lambda: b"".join(zlib.compress(text, threemf.LEVEL) for text in texts)
    if suffix == ".pdf":
        streams = [zlib.decompressobj().decompress(stream) for stream in STREAM.findall(data)]
        return lambda: b"".join(zlib.compress(stream, pdf.LEVEL) for stream in streams)
    return lambda: data


def _text(data: bytes) -> Writer:
    numbers = np.array(NUMBER.findall(data), dtype=np.float64)
    rest = NUMBER.sub(b"", data)
    return lambda: b"%.6f " * len(numbers) % tuple(numbers.tolist()) + rest
