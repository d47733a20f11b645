"""Scenes of few lines that ask for very many things."""

from __future__ import annotations

from tests.fuzz.growing import VAULTED
from tests.scene_text import COVERED, DOOR, PLAIN, changed

HAND = changed(PLAIN, 'process = "knife"', 'process = "hand"')
WIDE = changed(changed(HAND, "width = 180", "width = 2000"), "height = 150", "height = 2000")
PIER = '[[columns]]\nname = "pier"\ndiameter = 0.1\nat = '
ARCH = '[[arches]]\nname = "ring"\nat = 3\nspringing = 2.2\nring = 0.3\ndepth = 0.4\nhead = "segmental"\nrise = 1.0\n'
STEPS = '[[steps]]\nname = "flight"\nat = 3\nrise = 0.01\ngoing = 0.01\ncount = 99\nwidth = 2\n'
HOLE = (
    '[[openings]]\nname = "hole {0}"\nwall = "{1}"\nat = {2:.2f}\nwidth = 0.1\nsill = 1\nheight = 1\nhead = "round"\n'
)
FIGURE = '[[figures]]\nname = "person {0}"\nat = [{1}, {2}]\nheight = 1.7\n'


def _faces(cover: str) -> str:
    """Return a room all faces of which bear one cover."""
    walls = "".join(f'[{name}]\ncover = "fine"\n' for name in ("left", "right", "back", "floor", "ceiling"))
    return f"{PLAIN}{walls}[covers.fine]\n{cover}\n"


def _bed(size: float) -> str:
    return f"[make.printer]\nbed = [{size}, {size}, {size}]\n"


REFUSED: dict[str, tuple[str, str]] = {
    "units of a cover": (
        _faces('pattern = "running"\nlength = 0.002\nheight = 0.001\njoint = 0.0001'), "at most 400,000 in a scene"
    ),
    "guides of all covers together": (
        _faces('pattern = "running"\nlength = 0.04\nheight = 0.02\njoint = 0.001'), "at most 400,000 in a scene"
    ),
    "units in relief": (
        _faces('pattern = "running"\nlength = 0.05\nheight = 0.04\njoint = 0.002\nrelief = 0.001'),
        "at most 20,000 on a print",
    ),
    "places of columns": (PLAIN + PIER + "[" + "[0, 3], " * 100_000 + "[0, 3]]\n", "at most 200"),
    "openings": (
        PLAIN + '[[openings]]\nname = "hole"\nwall = "left"\nat = 1\nwidth = 0.01\nheight = 2\n' * 201, "at most 200"
    ),
    "figures": (PLAIN + FIGURE.format("one", 0, 3) * 201, "at most 200"),
    "materials": (PLAIN + "".join(f"[materials.m{n}]\nthickness = 1\n" for n in range(200)), "at most 200"),
    "bays of a vault": (PLAIN + changed(VAULTED, "bays = 2", "bays = 1000"), "vault.bays"),
    "steps": (PLAIN + changed(STEPS, "99", "1000"), "steps[1].count"),
    "pieces of a print": (PLAIN + ARCH + _bed(1.0), "make.printer.bed"),
    "pieces of a print on a bed of a micron": (PLAIN + ARCH + _bed(0.001), "make.printer.bed"),
    "slices of ribs": (
        PLAIN + VAULTED + 'material = "foam"\nribs = "sheet"\nrib_material = "thin"\n'
        + "[materials.thin]\nthickness = 0.001\n"
        + "".join(f'[{name}]\nmaterial = "foam"\n' for name in ("left", "right", "back", "floor", "front")),
        "more than 60 slices",
    ),
    "eyes": (changed(PLAIN, "height = 78", "height = 78\nbox = [1000000, 1000000]"), "at most 40,000,000"),
    "cells of a sheet": (changed(PLAIN, "[300, 200]", "[300, 1000000]"), "up to 3100 mm"),
    "cells between parts": (PLAIN + "spacing = 100000\n", "up to 100 mm"),
    "pages of paper": (changed(PLAIN, "width = 180", "width = 1000000"), "up to 2000 mm"),
    "a room without end": (changed(COVERED, "depth = 12.0", "depth = 1000"), "at most 400,000 in a scene"),
}  # fmt: skip
"""Scenes, and what the refusal says."""

ALLOWED: dict[str, str] = {
    "tabs along an edge": PLAIN + '[make]\ncorners = "tabs"\ntab = 0.001\n',
    "flaps": PLAIN + '[make]\ncorners = "flaps"\nflap = 0.001\n',
    "pages of paper": WIDE,
    "rulings of bent panels": PLAIN + changed(VAULTED, "rib_width = 0.3", "rib_width = 0")
    + "[make]\nbend_tolerance = 0.001\n",
    "drains": PLAIN + ARCH + "[make.printer]\ndrains = 8\ndrain = 0.5\nmin_wall = 0.01\nmin_cavity = 0.001\n",
    "hollows as fine as dust": PLAIN + ARCH + "[make.printer]\nmin_wall = 0.001\nmin_cavity = 0.001\n",
    "sheets": changed(PLAIN, "sheet = [300, 200]", "sheet = [10.01, 10.01]"),
    "offcuts": PLAIN + "offcuts = [" + "[60, 60, 100], " * 50 + "]\n",
    "openings": PLAIN + "".join(HOLE.format(n, ("left", "right")[n % 2], 0.5 + 0.11 * n) for n in range(100)),
    "planks of a door": PLAIN + DOOR + "[openings.door]\nplanks = 99\nledges = 9\n",
    "supports": PLAIN + "[supports]\nstringers = 20\nspacers = 20\n",
    "bridges": COVERED + "[make]\nbridges = 0.001\nbridge_count = 8\n",
    "bricks under a far eye": changed(COVERED, "distance = 420", "distance = 1000000"),
}  # fmt: skip
"""Scenes that are built, in seconds: what looks like many is not."""
