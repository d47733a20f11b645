"""The ribs of a vault for people without a printer: laminated from slices of sheet.

Every rib lies in an upright plane, so its slices are flat. They run down to the springing, without springer blocks.
Where ribs meet, one runs through and the others end on its flanks: arches on bay lines before all; of two diagonals
the one that rises to the right; then the other, in halves; then wall ribs and ridges.
"""

from __future__ import annotations

import numpy as np

from pipeline.elements.hall_shape import Hall
from pipeline.elements.laminations import Lamination
from pipeline.elements.model import Imagined
from pipeline.elements.problems import KeyPath, Problem
from pipeline.elements.vault import rib_bodies
from pipeline.elements.vault.rib_bodies import MOST_PLAY, Ribs, Track
from pipeline.elements.vault.table import VaultTable
from pipeline.geometry import curves
from pipeline.geometry.curves import Path
from pipeline.units import part_id

SIDES = {-1: "left", 1: "right"}


def laminate(ribs: Ribs, table: VaultTable, hall: Hall, path: KeyPath) -> Imagined:
    """Return the ribs of a vault without problems as laminations, those that run through before those that yield."""
    problems = _problems(table, hall, path)
    if problems:
        return Imagined(problems=tuple(problems))
    making = _Making(ribs, table, hall, path)
    shape = ribs.shape
    last = len(shape.lines) - 1
    out = []
    for k, line in enumerate(shape.lines):
        low, high = (0.0 if k == last else -ribs.half), (0.0 if k == 0 else ribs.half)
        wall = "back-wall" if k == last else ""
        track = rib_bodies.transverse(shape, line)
        out.append(making.rib(f"transverse-{k + 1}", track, (low, high), wall=wall, stops=("left", "right")))
    for k, bay in enumerate(shape.bays):
        arches: tuple[str, ...] = (f"transverse-{k + 1}", f"transverse-{k + 2}")
        stops = ("left", "right", *(("frame",) if k == 0 else ()))
        if table.form == "groin":
            whole, halved = f"diagonal-{k + 1}-right", f"diagonal-{k + 1}-left"
            for name, side, yields in ((whole, 1, arches), (halved, -1, (*arches, whole))):
                track = rib_bodies.diagonal(shape, bay, side)
                out.append(making.rib(name, track, (-ribs.half, ribs.half), stops=stops, yields=yields))
            arches = (*arches, whole, halved)
            for side, wall_name in SIDES.items():
                flanks = (0.0, ribs.half) if side < 0 else (-ribs.half, 0.0)
                name, track = f"wall-{wall_name}-{k + 1}", rib_bodies.wall(shape, bay, side)
                out.append(making.rib(name, track, flanks, wall=f"{wall_name}-wall", stops=stops, yields=arches))
        if table.ridge:
            out += making.ridges(k, bay, arches, stops)
    return Imagined(laminations=tuple(out))


def _problems(table: VaultTable, hall: Hall, path: KeyPath) -> list[Problem]:
    """Return what slices of sheet cannot be."""
    if hall.apron > 0:
        found = f"an apron of {hall.apron:g} mm, at whose end slices would have to be folded"
        allowed, remedy = 'ribs = "print", or a room without an apron', "print the ribs, or take space.apron out"
        return [Problem(path=(*path, "ribs"), found=found, allowed=allowed, remedy=remedy)]
    if table.section != "square":
        found = f'ribs of sheet with the section "{table.section}"'
        remedy = "leave section out, or print the ribs; edges of glued slices can be broken with a file"
        return [Problem(path=(*path, "section"), found=found, allowed='"square"', remedy=remedy)]
    if table.boss > 0:
        found = f"a boss {table.boss:g} m wide under ribs of sheet"
        remedy = "leave boss out, or turn one from a dowel and glue it under the crossing"
        return [Problem(path=(*path, "boss"), found=found, allowed="no boss, or printed ribs", remedy=remedy)]
    return []


class _Making:
    """What all laminations of a vault share."""

    def __init__(self, ribs: Ribs, table: VaultTable, hall: Hall, path: KeyPath) -> None:
        self.ribs, self.path, self.stem = ribs, path, part_id(str(path[0]))
        self.sheet = hall.sheet(table.rib_material or table.material)
        half = hall.width / 2
        self.planes = {
            "left": np.array([1.0, 0.0, 0.0, half]),
            "right": np.array([-1.0, 0.0, 0.0, half]),
            "frame": np.array([0.0, 1.0, 0.0, -hall.front]),
        }
        unit = np.array(
            [[2 / ribs.shape.width, 0, 0], [0, 1 / ribs.shape.rise, -ribs.shape.springing / ribs.shape.rise], [0, 0, 1]]
        )
        self.unit: Path = curves.transform_path(ribs.shape.barrel, unit)

    def rib(
        self,
        name: str,
        track: Track,
        flanks: tuple[float, float],
        *,
        stops: tuple[str, ...],
        yields: tuple[str, ...] = (),
        wall: str = "",
        under: float = 0.0,
    ) -> Lamination:
        """Return one rib, arched over its track, or level under the crown of a barrel of the span ``under``."""
        shape, ribs = self.ribs.shape, self.ribs
        play = min(track.play, MOST_PLAY * ribs.depth)
        low = shape.crown - rib_bodies.ridge_top(ribs, under) if under else play
        return Lamination(
            id=f"{self.stem}-rib-{name}",
            imagined_from_track=rib_bodies.upright(track),
            flanks=flanks,
            unit=() if under else self.unit,
            half_span=track.half_span,
            rise=shape.rise,
            springing=shape.springing,
            depth=ribs.depth,
            play=low,
            nearest=low - play / 2,
            stops={f"{self.stem}-{stop}": self.planes[stop] for stop in stops},
            yields=tuple(f"{self.stem}-rib-{other}" for other in yields),
            wall=wall,
            sheet=self.sheet,
            path=self.path,
        )

    def ridges(
        self, number: int, bay: tuple[float, float], others: tuple[str, ...], stops: tuple[str, ...]
    ) -> list[Lamination]:
        """Return the ridge along one bay and, under a groin vault, the one across it, which yields to that."""
        shape, half = self.ribs.shape, self.ribs.half
        name = f"ridge-{number + 1}-along"
        along = self.rib(
            name, rib_bodies.long_ridge(shape, bay), (-half, half), stops=stops, yields=others, under=shape.width
        )
        if shape.form == "barrel":
            return [along]
        walls = tuple(f"wall-{side}-{number + 1}" for side in SIDES.values())
        track = rib_bodies.cross_ridge(shape, bay)
        yields = (*others, *walls, name)
        across = self.rib(
            f"ridge-{number + 1}-across", track, (-half, half), stops=stops, yields=yields, under=shape.length
        )
        return [along, across]
