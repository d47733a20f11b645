"""What one process leaves for the next, on the disk."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from pipeline.build import build_scene
from pipeline.cli import main
from pipeline.commands.pack import Pack, pack_of
from pipeline.keeping.kept import Kept

from ..scene_text import DOOR, PLAIN

ROOM = (PLAIN + DOOR).encode()


@pytest.fixture(scope="module")
def clean() -> dict[str, bytes]:
    """The files of a clean build."""
    return build_scene(ROOM, "room").files


@pytest.fixture(scope="module")
def packed(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The bytes of the pack that a build leaves."""
    work = tmp_path_factory.mktemp("work")
    pack = pack_of(work, "room")
    build_scene(ROOM, "room", kept=Kept(pack))
    pack.save()
    assert [path.name for path in work.rglob("*") if path.is_file()] == ["room.kept"]
    return (work / "kept" / "room.kept").read_bytes()


class Counting(Pack):
    """A pack that counts what it is given anew."""

    puts = 0

    def put(self, key: bytes, value: bytes) -> None:
        """Count, and keep."""
        self.puts += 1
        super().put(key, value)


def rebuilt(folder: Path, data: bytes | None) -> tuple[dict[str, bytes], int]:
    """Return the files of a build that finds these bytes where its pack should be, and what it made anew."""
    file = folder / "kept" / "room.kept"
    file.parent.mkdir(parents=True)
    if data is not None:
        file.write_bytes(data)
    pack = Counting(file)
    files = build_scene(ROOM, "room", kept=Kept(pack)).files
    pack.save()
    return files, pack.puts


def test_a_second_process_makes_nothing_anew(tmp_path: Path, packed: bytes, clean: dict[str, bytes]) -> None:
    """All that can be stored is found again, and the files are the same to the byte."""
    assert rebuilt(tmp_path, packed) == (clean, 0)


def test_a_damaged_pack_is_made_anew_where_it_is_damaged(
    tmp_path: Path, packed: bytes, clean: dict[str, bytes]
) -> None:
    """Forty times: a bit turned, an end cut off, or a stretch of noise; never an error, never another byte."""
    chance, met = random.Random(7), 0
    for number in range(40):
        data = bytearray(packed)
        at = chance.randrange(len(data))
        kind = number % 3
        if kind == 0:
            data[at] ^= 1 << chance.randrange(8)
        elif kind == 1:
            del data[at:]
        else:
            data[at : at + 5000] = chance.randbytes(min(5000, len(data) - at))
        files, made = rebuilt(tmp_path / str(number), bytes(data))
        assert files == clean
        met += made > 0
    assert met >= 30, "little may lie in what nobody asked for, as is what another result was made of"


@pytest.mark.parametrize("data", [b"", b"not ours", b"foreshorten kept results 1\n[]\n", None])
def test_a_foreign_file_is_no_pack(tmp_path: Path, data: bytes | None, clean: dict[str, bytes]) -> None:
    """It is as good as none, and replaced."""
    files, made = rebuilt(tmp_path, data)
    assert files == clean
    assert made > 0
    assert (tmp_path / "kept" / "room.kept").read_bytes().startswith(b"foreshorten kept results 1\n")


def test_another_programs_results_do_not_count(
    tmp_path: Path, packed: bytes, clean: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """After an update the same inputs may mean something else."""
    monkeypatch.setattr("pipeline.commands.pack.maker", lambda: "another")
    files, made = rebuilt(tmp_path, packed)
    assert files == clean
    assert made > 0


def test_a_pack_that_cannot_be_written_is_let_be(tmp_path: Path, clean: dict[str, bytes]) -> None:
    """A file stands where its folder should be: the build goes on without."""
    (tmp_path / "work").write_text("in the way")
    pack = pack_of(tmp_path / "work", "room")
    assert build_scene(ROOM, "room", kept=Kept(pack)).files == clean
    pack.save()
    assert (tmp_path / "work").read_text() == "in the way"


def test_anew_uses_nothing_and_leaves_what_it_made(
    tmp_path: Path, packed: bytes, clean: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pack that was there is gone, and the one in its place serves the next build."""
    monkeypatch.chdir(tmp_path)
    Path("room.toml").write_bytes(ROOM)
    file = Path("exports/.foreshorten/kept/room.kept")
    file.parent.mkdir(parents=True)
    file.write_bytes(packed)
    found: list[bytes | None] = []
    real = Pack.get

    def get(self: Pack, key: bytes) -> bytes | None:
        found.append(real(self, key))
        return found[-1]

    monkeypatch.setattr(Pack, "get", get)
    assert main(["build", "room.toml", "--anew", "--quiet"]) == 0
    assert found
    assert not any(found)
    assert rebuilt(tmp_path / "next", file.read_bytes()) == (clean, 0)
