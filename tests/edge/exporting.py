"""An export folder published again and again, with bytes that tell which version they are of."""

from __future__ import annotations

import hashlib
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path

from pipeline.folder import WORK, publish
from tests.on_disk import Files

EXPECTED_NAMES = ("manifest.json", "panels/floor.dxf", "panels/floor.svg", "prints/pier-1.stl", "report.html")


def export(version: int) -> Files:
    """Files whose every byte string names the version, so that a mixture shows."""
    files = {name: f"{version}".encode() * 4096 for name in EXPECTED_NAMES if name != "manifest.json"}
    return with_manifest(files, version)


def with_manifest(files: Files, version: int) -> Files:
    listed = {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    manifest = {"format": 1, "version": version, "scene_sha256": "0" * 64, "files": listed}
    return {**files, "manifest.json": json.dumps(manifest).encode()}


def trays(out: Path) -> list[Path]:
    return [p for p in (out / WORK).glob("folders/*/*") if p.is_dir()]


def in_child(function: Callable[[], object]) -> int:
    """Run in a forked process; return its exit code, negative for a signal."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            function()
            code = 0
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def put(out: Path, version: int, wait_seconds: float = 5.0) -> None:
    publish(export(version), out / "room", out / WORK, wait_seconds)


def before_call(event: int, act: Callable[[], None]) -> None:
    """Act just before one of this process's next system calls; ``event`` counts those Python tells of (PEP 578)."""
    count = 0

    def watch(name: str, _: object) -> None:
        nonlocal count
        if name.startswith(("open", "os.", "shutil.")):
            count += 1
            if count == event:
                act()

    sys.addaudithook(watch)
