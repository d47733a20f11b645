"""What is made: panels and prints, placed in the built box."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.bodies import Block, Solid
from pipeline.elements.surfaces import Face
from pipeline.geometry.curves import Path
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.regions import Region

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leaf:
    """A flat piece of a panel; a panel folded at the apron's end has two.

    Attributes
    ----------
    flat_from_host
        ``(3, 3)`` homography from the face's host coordinates (imagined mm) to the panel's flat frame.
    built_from_flat
        ``(4, 4)`` rigid; flat z = 0 is the visible (finished) face.
    near, far
        The imagined y this leaf spans.
    """

    flat_from_host: Array
    built_from_flat: Array
    near: float
    far: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JointEdge:
    """One edge of a panel for the cut list: flat mm and degrees.

    ``back`` is how far all of it stands back from the line where the visible faces meet; below zero it runs on.
    ``through`` is which of the two parts runs on, where one does. ``wedge_deg`` is by how much two square edges part
    behind that line, out of sight; nothing where they do not.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    length: float
    against: str
    angle_deg: tuple[float, float] | None
    bevel_deg: tuple[float, float]
    gap: tuple[float, float]
    back: float = 0.0
    through: str = ""
    wedge_deg: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Addition:
    """What runs on beneath another sheet, a flap, a tab with the notches beside it, or a lug with the slot for one.

    Attributes
    ----------
    kind, against
        What it is, and the part that it holds.
    chain
        ``(n, 2)`` flat: from its base's start round it to its base's end, as the outline goes round it then.
    fold
        ``(2, 2)`` flat line that it is folded along; nothing for tabs and lugs.
    fold_deg
        How far it is folded toward the visible side.
    slot
        ``(m, 2)`` flat, clockwise; nothing but for lugs.
    ease
        mm to be pared off a tab's visible arris at its tip.
    gap
        mm that shows between a notch and the visible face of the other sheet.
    body
        Closed, built mm; of a lug the lug without its slot, of a strip nothing: the panel's own body has it, nor of a
        notch.
    hole
        What a slot or a notch takes from the panel's own body, closed, built mm; nothing for others.
    """

    kind: Literal["strip", "flap", "tab", "notch", "lug"]
    against: str
    chain: Array
    fold: Array | None = None
    fold_deg: float = 0.0
    slot: Array | None = None
    ease: float = 0.0
    gap: float = 0.0
    body: Mesh
    hole: Mesh | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panel:
    """A face made from sheet.

    Attributes
    ----------
    face
        The imagined face it shows.
    region
        The imagined region in host coordinates, cuts taken out: what the eye is to see.
    leaves
        One, or two where the apron's end folds it (the near one first).
    thickness, finish
        mm. The sheet fills flat z in [-(finish + thickness), -finish].
    cut
        Outline and holes of the sheet's front, flat mm, exact curves.
    hidden
        The same of its hidden face.
    edges
        The border, for the cut list.
    guides
        ``(n, 2, 2)`` flat lines of the cover, on the visible face.
    guides_host
        ``(n, 2, 2)`` the same lines in host coordinates.
    folds
        ``(k, 2, 2)`` flat.
    places
        Closed marks, flat.
    hidden_places
        Closed marks on the hidden face, flat, seen through the sheet, and the part that stands there.
    light_places
        Borders of light and shadow on the visible face, flat, and what is written at each.
    body
        Closed mesh of the sheet, built mm.
    cut_edges
        Triangles of the sheet's cut edges alone, built mm, for pictures.
    visible
        Triangles of the visible face, built mm, for pictures.
    visible_imagined
        The same triangles in the imagined room, vertex for vertex.
    area
        Of the visible face, mm^2.
    thinned
        (guides left out or shortened, built depth from which it happened) or None.
    additions
        What ``cut`` and ``body`` have beside the visible outline, for gluing.
    partings
        ``(k, 2, 2)`` flat lines to part it along where it fits no sheet.
    labels
        What is written at some of the closed marks of the visible face.
    """

    face: Face
    region: Region
    leaves: tuple[Leaf, ...]
    thickness: float
    finish: float
    cut: Region
    hidden: Region
    edges: tuple[JointEdge, ...]
    guides: Array
    guides_host: Array
    folds: Array
    places: tuple[Path, ...]
    hidden_places: tuple[tuple[str, Path], ...]
    body: Mesh
    cut_edges: Mesh
    visible: Mesh
    visible_imagined: Mesh
    area: float
    thinned: tuple[int, float] | None
    additions: tuple[Addition, ...] = ()
    partings: Array = field(default_factory=lambda: np.zeros((0, 2, 2)))
    light_places: tuple[tuple[str, Path], ...] = ()
    labels: tuple[tuple[str, Path], ...] = ()

    @property
    def id(self) -> str:
        """Part id."""
        return self.face.id

    @property
    def material(self) -> str:
        """Name of the sheet's material."""
        return self.face.sheet.material


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Raised:
    """A face whose units stand out of it, printed in place of its panel.

    Attributes
    ----------
    face, region
        The imagined face, and what is left of it after its cuts, host coordinates.
    leaf
        Where its plane lies; flat z = 0 is the face, the bottom of the joints.
    relief
        How far the units stand out, imagined mm.
    units
        How many there are.
    joints
        ``(n, 2, 3)`` middles of the joints on the face, to be drawn in pictures, imagined mm.
    """

    face: Face
    region: Region
    leaf: Leaf
    relief: float
    units: int
    joints: Array

    @property
    def id(self) -> str:
        """Part id."""
        return self.face.id

    @property
    def material(self) -> str:
        """Name of the sheet's material."""
        return self.face.sheet.material


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Print:
    """A solid made by a 3D printer.

    Attributes
    ----------
    solid
        The imagined body.
    body
        Closed shell, built mm, outward.
    skin_imagined
        Closed surface of the imagined body kept inside the hall, imagined mm, finely faceted.
    built_from_bed
        ``(4, 4)`` rigid.
    hollow
        Whether a hollow was left inside.
    volume
        Of the material, mm^3.
    min_wall
        Wall the shell was made for, mm.
    piece
        Which of the pieces this is that it was cut into for the printer's bed, from 1; 0 for a whole.
    drains
        Diameters of the holes that let resin out of its hollows, mm.
    pegs
        Diameters of the pegs that join it to other pieces, standing on it or on them, mm.
    """

    solid: Solid | Block | Raised
    body: Mesh
    skin_imagined: Mesh
    built_from_bed: Array
    hollow: bool
    volume: float
    min_wall: float
    piece: int = 0
    drains: tuple[float, ...] = ()
    pegs: tuple[float, ...] = ()

    @property
    def id(self) -> str:
        """Part id."""
        return f"{self.solid.id}-{self.piece}" if self.piece else self.solid.id
