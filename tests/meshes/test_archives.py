"""Archives handed in as meshes: none is ever opened, so none can fill the memory or the disk, whatever it says."""

from __future__ import annotations

import gzip
import io
import struct
import tracemalloc
import warnings
import zipfile
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.meshfiles import READERS, MeshFileError, read_mesh_file
from tests.scene_text import PLAIN

ZEROS = bytes(64 * 2**20)
"""64 MB, a thousandth of that when packed."""


def packed(*entries: tuple[str, bytes]) -> bytes:
    """Return a zip of some files."""
    buffer = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        warnings.simplefilter("ignore")  # of the second entry with a name
        for name, content in entries:
            archive.writestr(zipfile.ZipInfo(name), content, compress_type=zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def lying(data: bytes, *, size: int | None = None, encrypted: bool = False) -> bytes:
    """Return a zip of one entry, both its headers telling another size, or that it is encrypted (APPNOTE 4.3.7, 12)."""
    out = bytearray(data)
    for mark, flags, sizes in ((b"PK\x03\x04", 6, 22), (b"PK\x01\x02", 8, 24)):
        start = out.index(mark)
        if encrypted:
            out[start + flags] |= 1
        if size is not None:
            out[start + sizes : start + sizes + 4] = struct.pack("<I", size)
    return bytes(out)


ARCHIVES = {
    "a bomb": packed(("3D/3dmodel.model", ZEROS)),
    "a bomb in a bomb": packed(("a.zip", packed(("b.zip", packed(("3D/3dmodel.model", ZEROS)))))),
    "many bombs": packed(*((f"{number}.stl", ZEROS[: 2**20]) for number in range(200))),
    "names that lead out": packed(("../../outside.stl", b"x"), ("/etc/outside.stl", b"x"), ("C:\\outside.stl", b"x")),
    "a name twice": packed(("3D/3dmodel.model", b"<model/>"), ("3D/3dmodel.model", ZEROS)),
    "a size too small": lying(packed(("3D/3dmodel.model", ZEROS)), size=10),
    "a size too large": lying(packed(("3D/3dmodel.model", b"<model/>")), size=0xFFFFFFF0),
    "encrypted": lying(packed(("3D/3dmodel.model", b"<model/>")), encrypted=True),
    "cut off": packed(("3D/3dmodel.model", ZEROS))[:4000],
    "empty": packed(),
    "gzip": gzip.compress(ZEROS, mtime=0),
}


@pytest.mark.parametrize("ending", [*READERS, "3mf", "zip"])
@pytest.mark.parametrize("kind", ARCHIVES)
def test_an_archive_is_refused_unopened(kind: str, ending: str) -> None:
    """By its first bytes or its name, in no more memory than the file itself takes a few times over."""
    data = ARCHIVES[kind]
    tracemalloc.start()
    with pytest.raises(MeshFileError) as refusal:
        read_mesh_file(f"thing.{ending}", data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 2**20 + 4 * len(data)
    if ending not in READERS:
        assert "none that is read" in str(refusal.value)
    else:
        assert f"its ending says {ending.upper()}, its content is a " in str(refusal.value)
        assert ("gzip archive" if kind == "gzip" else "ZIP archive") in str(refusal.value)


@pytest.mark.parametrize("kind", ARCHIVES)
def test_the_command_refuses_it_in_a_line_and_writes_nothing(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Code 2; nothing beside the two files, nor above them."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    Path("room.toml").write_text(PLAIN)
    Path("thing.3mf").write_bytes(ARCHIVES[kind])
    Path("thing.stl").write_bytes(ARCHIVES[kind])
    for name in ("thing.3mf", "thing.stl"):
        assert main(["warp", name, "--scene", "room.toml"]) == 2
        said = capsys.readouterr().err
        assert said.startswith(f"foreshorten: {name} cannot be read: ")
        assert said.count("\n") == 1
    assert {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*")} == {
        "here", "here/room.toml", "here/thing.3mf", "here/thing.stl",
    }  # fmt: skip
