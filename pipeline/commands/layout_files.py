"""The layout file beside a scene."""

from __future__ import annotations

from pathlib import Path

from pipeline.commands.plain_files import read_plain


def layout_path(scene: Path) -> Path:
    """Return where a scene's layout file stands: ``cistern.layout.json`` beside ``cistern.toml``."""
    return scene.with_name(f"{scene.stem}.layout.json")


def read_layout_file(scene: Path) -> bytes | None:
    """Return the bytes of a scene's layout file, or nothing where there is none.

    Raises
    ------
    InputError
        If something stands there that is no plain file, unreadable or too large.
    """
    from pipeline.sheets.refusals import MOST_BYTES

    path = layout_path(scene)
    if not path.exists():
        return None
    larger = f"more than {MOST_BYTES:,} bytes; a layout is far smaller"
    return read_plain(path, MOST_BYTES, shown=str(path), wanted="a layout file", larger=larger)


def layout_refusal(scene: Path, error: ValueError) -> str:
    """Return what is said of a layout file that cannot be used."""
    return f"{layout_path(scene)}: {error}. Delete it, or lay the parts anew: foreshorten nest {scene}"
