"""What lies beside an export folder is the old file or the new one, whatever stops or refuses its writing."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from pipeline.build import build_scene
from pipeline.cli import main
from pipeline.commands.live import OnDisk
from pipeline.commands.pack import Pack
from pipeline.commands.scene_files import SceneFile
from pipeline.folder import WORK
from pipeline.live.session import RefusedError
from pipeline.sheets.coupons import BLOCKS, block_of
from tests.faults.building import SCENE
from tests.faults.stepping import FAULTS, Fault, steps
from tests.on_disk import Files, files_in


@dataclass(frozen=True, kw_only=True)
class Writing:
    """One way in which the program writes a file beside the export folder.

    Attributes
    ----------
    old
        Returns what lies there before, by path.
    work
        Writes; is given the folder and returns an exit code.
    file
        What is written, or taken away.
    """

    old: Callable[[], Files]
    work: Callable[[Path], int]
    file: str


def _read_kerf(folder: Path) -> int:
    length = f"{block_of(3.0) * BLOCKS - 0.6:g}"
    return main(["coupon", "foam", "--scene", str(folder / "room.toml"), "--read", length, "--write", "--quiet"])


def _saved(folder: Path) -> int:
    scene = SceneFile(path=folder / "room.toml", stem="room")
    disk = OnDisk(scene, folder / "exports")
    try:
        disk.save(disk.text(), (("eye.distance", 400.0),))
    except RefusedError:
        return 2
    return 0


def _nested(folder: Path) -> int:
    return main(["nest", str(folder / "room.toml"), "--seconds", "0", "--quiet"])


def _begun(folder: Path) -> int:
    return main(["begin", str(folder / "new"), "--box", "180x150x85", "--quiet"])


def _cut(folder: Path) -> int:
    return main(["cut", str(folder / "exports" / "room"), "floor", "--quiet"])


def _forgotten(folder: Path) -> int:
    return main(["cut", str(folder / "exports" / "room"), "floor", "--forget", "--quiet"])


def _kept(folder: Path) -> int:
    pack = Pack(folder / "exports" / WORK / "kept" / "room.kept")
    pack.put(b"key", b"new " * 5000)
    pack.save()
    return 0


MARK = f"exports/{WORK}/cut/room/floor.json"
PACK = f"exports/{WORK}/kept/room.kept"


@cache
def _built(distance: int) -> Files:
    files = build_scene(SCENE.encode(), "room", (("eye.distance", str(distance)),)).files
    return {f"exports/room/{name}": content for name, content in files.items()}


def _room() -> Files:
    return {"room.toml": SCENE.encode()}


WRITINGS = {
    "kerf read": Writing(old=_room, work=_read_kerf, file="room.toml"),
    "saved on the page": Writing(old=_room, work=_saved, file="room.toml"),
    "layout": Writing(old=lambda: {**_room(), "room.layout.json": b"{}"}, work=_nested, file="room.layout.json"),
    "scene begun": Writing(old=dict, work=_begun, file="new.toml"),
    "part cut": Writing(old=lambda: _built(400), work=_cut, file=MARK),
    "results kept": Writing(old=lambda: {PACK: b"old"}, work=_kept, file=PACK),
    "first results kept": Writing(old=dict, work=_kept, file=PACK),
}
FAULTS_OF = {"layout": ("killed",), "part cut": ("full",), "saved on the page": ("killed", "interrupted")}
"""Of those that take long to try; all are written by the same function."""
TRIED = [(name, fault) for name in WRITINGS for fault in FAULTS_OF.get(name, FAULTS)]


def _put(files: Files, folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)


def _put_back(files: Files, folder: Path) -> None:
    """Put back only what differs, since most never does."""
    for name, content in files_in(folder).items():
        if files.get(name) != content:
            (folder / name).unlink()
    for name, content in files.items():
        if not (folder / name).exists():
            (folder / name).write_bytes(content)


@pytest.mark.parametrize(("name", "fault"), TRIED)
def test_a_file_beside_the_folder_is_the_old_one_or_the_new_one(name: str, fault: Fault, tmp_path: Path) -> None:
    """At every step; and the same command, given again, writes the new one and clears what a dead one left."""
    writing, bench = WRITINGS[name], tmp_path / "bench"
    old = writing.old()
    _put(old, bench)
    assert writing.work(bench) == 0
    new = files_in(bench)
    assert new.keys() == {*old, writing.file}
    assert new != old
    seen: Counter[tuple[int, str]] = Counter()
    _put_back(old, bench)
    for code in steps(fault, lambda: writing.work(bench), bench):
        found = files_in(bench)
        parts = {path for path in found if Path(path).name.startswith(".foreshorten-")}
        there = {path: content for path, content in found.items() if path not in parts}
        assert there in (old, new), (code, sorted(found))
        seen[code, "old" if there == old else "new"] += 1
        seen[code, "and a part"] += bool(parts)
        if not old:
            (bench / writing.file).unlink(missing_ok=True)
        assert writing.work(bench) == 0
        assert files_in(bench) == new
        _put_back(old, bench)
    said = {"killed": -9, "interrupted": 130}.get(fault, 0 if "kept" in name else 2)
    assert {code for code, _ in seen} <= {0, said}
    assert seen[said, "old"] >= 1
    if fault in ("full", "read-only"):
        assert sum(count for (_, what), count in seen.items() if what == "and a part") <= 1  # its removal was refused
