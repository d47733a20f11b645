"""The same scene makes the same bytes, whatever else differs: hash seed, clock, language, folder, jobs."""

from __future__ import annotations

import json
import os
from pathlib import Path

from .same_bytes import around, differing, texts

SEEDS = int(os.environ.get("FORESHORTEN_HASH_SEEDS", "4"))
"""How many hash seeds are tried; 20 by hand, a fifth of them every time. The first four meet all else that differs."""

KINDS = {".dxf", ".svg", ".stl", ".3mf", ".pdf", ".png", ".glb", ".csv", ".html", ".json"}
"""Every format that is written; a scene that left one out would prove nothing of it."""
BESIDE = {
    "coupon/newer-card-coupon.dxf", "kerf.toml", "moved.toml", "begun.toml", "compare.svg", "depth.svg", "warped.stl",
    "swept/contact-sheet.html", "made/.foreshorten/cut/newer/floor.json", "build.said", "schema.said",
}  # fmt: skip
"""Of what other commands than ``build`` write, and the live page where it saves."""


def test_one_hash_a_file(tmp_path: Path) -> None:
    """Every file of every format, and every word that is said, is byte for byte the same in all surroundings."""
    scenes = texts([])
    first, lines = differing(SEEDS, scenes, tmp_path)
    assert lines == []
    assert {Path(name).suffix for name in first if name.startswith("made/newer/")} == KINDS
    assert set(first) >= BESIDE
    folder = tmp_path / "0" / around(1)[0].folder
    for name in ("kerf", "moved"):
        assert (folder / f"{name}.toml").read_bytes() != scenes["newer"]
    manifest = json.loads((folder / "made" / "newer" / "manifest.json").read_text("utf-8"))
    assert manifest["lights"]
    assert manifest["figures"]
    assert manifest["air"]
    assert manifest["camera"]
    assert manifest["casework"]
    assert manifest["wiring"]["runs"]
    assert (folder / "made" / "older" / "panels" / "floor.dxf").read_bytes().count(b"AC1009") == 1


def test_the_surroundings_differ_in_all_they_say() -> None:
    """Four of them meet both values of each of the four, and every pair of values but for folder and zone."""
    four = around(4)
    for name in ("zone", "language", "folder", "jobs"):
        assert len({getattr(one, name) for one in four}) == 2
    assert len({one.seed for one in around(20)}) == 20
