"""Build the demos and put their pictures, made small, beside this file, and the page of all keys of the scene file.

Run as ``python docs/redraw.py`` from a checkout whenever a demo, the pictures or a key change; tests compare them.
"""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

HERE = Path(__file__).parent
SCENES = HERE.parent / "scenes"
COLOURS = 96
WIDTHS = {"eye.png": 600, "aside.png": 600}
"""Pixels; the others are half a column wide."""
WIDTH = 420
STARTER = "my-room"
GALLERY = tuple(sorted(path.stem for path in SCENES.glob("*.toml")))
TEMPLATE = "first-template.png"
FAR = "far-aside.png"
FAR_MM = 350.0
"""How far right of the eye the picture of the first demo is taken in which the trick comes undone."""


def shown() -> dict[str, tuple[str, str]]:
    """Return the picture files of these pages, each with its scene and the picture of it that it shows."""
    pictures = {f"{name}.png": ("cistern", f"pictures/{name}.png") for name in ("eye", "aside")}
    pictures |= {f"first-{name}.png": (STARTER, f"pictures/{name}.png") for name in ("eye", "aside")}
    for scene in GALLERY:
        pictures |= {f"gallery/{scene}-{name}.png": (scene, f"pictures/{name}.png") for name in ("eye", "aside")}
    return pictures


def small(png: bytes, name: str = "eye.png") -> Image.Image:
    """Return a picture at the size it is shown."""
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    width = WIDTHS.get(name, WIDTH)
    return picture.resize((width, round(width * picture.height / picture.width)), Image.Resampling.LANCZOS)


def page(pdf: bytes) -> bytes:
    """Return the second page of the templates, the first with a part on it."""
    import pypdfium2

    out = io.BytesIO()
    pypdfium2.PdfDocument(pdf)[1].render(scale=1.6).to_pil().save(out, "PNG")
    return out.getvalue()


def far_aside() -> bytes:
    """Return the first demo from far aside, as somebody beside the one at the eye point sees it."""
    from pipeline.build import shape
    from pipeline.report.pictures import RIM_MM, take_pictures

    made = shape(scene_bytes("cistern"))
    views = take_pictures(made.room, made.cut_parts, made.prints, RIM_MM, made.casts, aside_mm=FAR_MM)
    return views["pictures/aside.png"]


def scene_bytes(name: str) -> bytes:
    """Return a demo's text, or the starter's."""
    from pipeline.scene.starter import Wishes, starter_scene

    if name == STARTER:
        return starter_scene(Wishes(title="My room")).encode()
    return (SCENES / f"{name}.toml").read_bytes()


def main() -> None:
    """Build and write."""
    from pipeline.build import build_scene
    from pipeline.scene.reference import reference

    (HERE / "scene-file.md").write_text(reference(), encoding="utf-8")
    (HERE / "gallery").mkdir(exist_ok=True)
    for scene in (*GALLERY, STARTER):
        built = build_scene(scene_bytes(scene), scene).files
        pictures = {name: built[file] for name, (of, file) in shown().items() if of == scene}
        if scene == STARTER:
            pictures[TEMPLATE] = page(built["templates.pdf"])
        if scene == "cistern":
            pictures[FAR] = far_aside()
        for name, png in pictures.items():
            little = small(png, name).quantize(COLOURS, dither=Image.Dither.NONE)
            little.save(HERE / name, optimize=True)


if __name__ == "__main__":
    main()
