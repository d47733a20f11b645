"""Build the demo and put its pictures, made small, beside this file, and the page of all keys of the scene file.

Run as ``python docs/redraw.py`` from a checkout whenever the demo, the pictures or a key change; tests compare them.
"""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

HERE = Path(__file__).parent
SIZE = (600, 450)
COLOURS = 96


def small(png: bytes) -> Image.Image:
    """Return a picture at the README's size."""
    return Image.open(io.BytesIO(png)).convert("RGB").resize(SIZE, Image.Resampling.LANCZOS)


def main() -> None:
    """Build and write."""
    from pipeline.build import build_scene
    from pipeline.scene.reference import reference

    (HERE / "scene-file.md").write_text(reference(), encoding="utf-8")
    built = build_scene((HERE.parent / "scenes" / "cistern.toml").read_bytes(), "cistern")
    for name in ("eye", "aside"):
        picture = small(built.files[f"pictures/{name}.png"])
        picture.quantize(COLOURS, dither=Image.Dither.NONE).save(HERE / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
