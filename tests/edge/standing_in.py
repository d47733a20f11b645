"""A stand-in for the build, so that what the commands do around it can be looked at alone."""

from __future__ import annotations

import hashlib
import json
import os
import signal
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.elements.problems import Problem
from pipeline.scene.problems import PlacedProblem, SceneFileError

RELIEF = {"back_scale": 0.6}
PROBLEM = Problem(path=("columns", 1, "diameter"), found="0 is not above zero", allowed="above 0", remedy="try 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """What the real build returns."""

    files: dict[str, bytes]
    manifest: dict[str, Any]
    summary: tuple[str, ...]
    failed: int


def stand_in(
    text: bytes,
    stem: str,
    overrides: tuple[tuple[str, str], ...] = (),
    read: dict[str, bytes] | None = None,
    layout: bytes | None = None,
    kept: object = None,
    begins: object = None,
) -> StandIn:
    """Do what the text says."""
    if text == b"wrong":
        raise SceneFileError([PlacedProblem(problem=PROBLEM, line=14, column=1)])
    if text == b"fault":
        raise ZeroDivisionError("float division\nby zero")
    if text == b"die":
        os.kill(os.getpid(), signal.SIGKILL)
    if text == b"interrupt":
        raise KeyboardInterrupt
    failed = int(text == b"check fails")
    status = "fail" if failed else "pass"
    panel = f"{stem} {overrides}".encode()
    checks = [
        {"id": "fits-sheet", "part": "floor", "status": status, "message": "floor is 4 mm too wide"},
        {"id": "fits-box", "part": "", "status": "warn", "message": "tight"},
    ]
    manifest = {
        "title": stem,
        "scene_sha256": hashlib.sha256(text).hexdigest(),
        "relief": RELIEF,
        "parts": [{"id": "floor"}],
        "checks": checks,
        "files": {"panels/floor.svg": hashlib.sha256(panel).hexdigest()},
    }
    files = {"panels/floor.svg": panel, "manifest.json": json.dumps(manifest).encode()}
    return StandIn(files=files, manifest=manifest, summary=(f"{stem}: 1 panel",), failed=failed)


def scene(name: str, text: str = "good") -> str:
    """Write a scene that says what is to become of it, and return its path."""
    path = Path(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return name
