"""Scenes built again whenever one of their files changes.

What a scene is made of is looked at by time and size, a few times a second: it works on every disk, network drives
among them, and for editors that replace a file instead of writing into it. A file that changes while it is built is
built again.
"""

from __future__ import annotations

import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

from pipeline.commands.layout_files import layout_path
from pipeline.commands.scene_files import SceneFile

PAUSE = 0.2
"""Seconds between two looks: soon enough to be there when one has turned to the other window."""

State = tuple[tuple[str, int, int], ...]
"""Of every file: its name, when it was last changed, ns, and how many bytes it has; -1 where there is none."""


def state_of(scene: SceneFile) -> State:
    """Return how the files of a scene stand: itself, the layout beside it, and the meshes it names."""
    return tuple(_state(path) for path in (scene.path, layout_path(scene.path), *_named(scene.path)))


def changes(
    seen: dict[SceneFile, State], pause: Callable[[], None] = lambda: time.sleep(PAUSE)
) -> Iterator[tuple[SceneFile, bool]]:
    """Yield each scene whose files have changed since they were last looked at, and whether it is still there.

    Parameters
    ----------
    seen
        How the files of each scene stood before it was built.
    pause
        Waits a little; whatever it raises ends the watch.
    """
    states = dict(seen)
    while True:
        pause()
        for scene in seen:
            now = state_of(scene)
            if now != states[scene]:
                states[scene] = now
                yield scene, now[0][2] >= 0


def _state(path: Path) -> tuple[str, int, int]:
    try:
        found = path.stat()
    except (OSError, ValueError):
        return str(path), 0, -1
    return str(path), found.st_mtime_ns, found.st_size


def _named(path: Path) -> list[Path]:
    """Return the mesh files a scene names, as far as it can be read at all."""
    try:
        content = tomllib.loads(path.read_bytes()[: 2**20].decode("utf-8"))
        keys = (("meshes", "file"), ("figures", "mesh"))
        named = [table.get(key) for things, key in keys for table in content.get(things, [])]
        return [path.parent / name for name in named if isinstance(name, str)]
    except (OSError, ValueError, AttributeError, TypeError, RecursionError):
        return []
