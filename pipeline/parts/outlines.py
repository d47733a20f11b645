"""The outlines of a panel: on the visible face, on the sheet's front and on its hidden face."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.elements.surfaces import Face, Sweep
from pipeline.geometry import curves, frames
from pipeline.geometry.curves import Curve, Path
from pipeline.geometry.regions import Edge, Loop, Region
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.parts import joints
from pipeline.parts.corners import PLAIN, Corners
from pipeline.parts.cut_corners import corner_cuts, cut_corners
from pipeline.parts.joints import FlatSweep, Joint
from pipeline.parts.leaves import APRON_TOUCH, Fold, Lie, lie_of
from pipeline.parts.model import Leaf
from pipeline.parts.offsets import STEP, offset_loop
from pipeline.relief.collineation import Relief

Array = NDArray[np.float64]

BEHIND = 1e-6
"""Sine; an edge whose own sheet goes this steeply behind the other's plane meets it round a corner."""

UPRIGHT = 0.5
"""Of a unit normal along the hall; of the hall's surfaces the back wall's is 1, the others' 0."""

FRAME = "front-frame"
"""Part id of the sheet in the opening, behind which the hall's surfaces start."""

ADDED = ("fold", STEP)
"""What stands against edges of a sheet that answer none of its visible face's."""

HOLDING_ROUNDS = 6
"""Each round leaves a hundredth or less of what was outside the box before it."""

REMEMBERED = 64
"""Loops whose joints are kept, since both faces of a sheet and its list of edges ask for them; known by identity."""

REMEMBERED_FACES = 256
"""Faces whose form without a cover is kept, by identity, so that it stays the same one from build to build."""

LEAST_ALONG = 0.1
"""Sine; an edge that hardly moves across the box's side when held back cannot be brought inside by it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Making:
    """What all panels of a scene share.

    Attributes
    ----------
    relief
        The collineation.
    box
        Planes ``(4,)`` (n, c) of the box's sides, bottom and top, unit normals inward, built mm.
    lies, faces
        Each face's place, and each face, by part id.
    planes
        Ids of those faces that are not made: panels are cut along their planes.
    corners
        What holds sheets together where they meet.
    sweeps
        How edges are cut that no plane gives, by part id and by what lies against them.
    bents
        Part ids of bent panels, which may stand in such a plane.
    regions
        What is left of each face after its cuts, by part id, host coordinates.
    bevelled
        Whether joints are mitred (``make.edges = "bevel"``) or cut square.
    butted
        Whether of two square edges one stands on the other's sheet (``make.joint = "butt"``).
    min_guide
        Guides nearer than this, built mm, are thinned.
    """

    relief: Relief
    box: tuple[Array, ...]
    lies: dict[str, Lie]
    faces: dict[str, Face]
    regions: dict[str, Region]
    bevelled: bool
    butted: bool
    min_guide: float
    planes: frozenset[str] = frozenset()
    corners: Corners = PLAIN
    sweeps: Mapping[tuple[str, str], Sweep] = field(default_factory=dict)
    bents: frozenset[str] = frozenset()

    def meets(self, part: str, other: str) -> int:
        """Return how many edges of a part lie against another."""
        return sum(edge.against == other for loop in self.regions[part].loops for edge in loop)

    def meets_once(self, part: str, other: str) -> bool:
        """Return whether two of the hall's surfaces meet in one edge of each, nothing between: no doorway, no step.

        Only behind these is it known that nothing stands where a sheet runs on.
        """
        hall = len(self.faces[part].path) == len(self.faces[other].path) == 1
        return hall and self.meets(part, other) == self.meets(other, part) == 1

    def through(self, part: str, other: str) -> bool:
        """Return whether a part runs on and the other ends on it: who was said first does, a wall before its holes.

        Before all of them the hall's back wall: what leans would run on past it out of the box.
        """
        order = list(self.faces)

        def rank(name: str) -> tuple[bool, int]:
            face = self.faces[name]
            return len(face.path) > 1 or abs(face.inward[1]) < UPRIGHT, order.index(name)

        return rank(part) < rank(other)

    def which_through(self, part: str, other: str) -> str:
        """Return which of two parts runs on and the other ends on, or nothing where both end on one line."""
        if other not in self.faces:
            return ""
        if self.faces[other].through or other == FRAME:
            return other
        if self.bevelled or not self.meets(other, part):
            return ""
        return part if self.through(part, other) else other


def prepare(
    faces: tuple[Face, ...],
    relief: Relief,
    box: tuple[Array, ...],
    *,
    regions: dict[str, Region],
    bevelled: bool,
    butted: bool,
    min_guide: float,
    planes: tuple[Face, ...] = (),
    sweeps: tuple[Sweep, ...] = (),
    bents: frozenset[str] = frozenset(),
    kept: Kept = NOTHING_KEPT,
) -> Making:
    """Return what panels need to know of one another; ``planes`` are faces that are not made, ``bents`` webs.

    ``regions`` are what is left of faces that are cut; ``kept`` is what earlier builds made.
    """
    every = (*faces, *planes)
    return Making(
        relief=relief,
        box=box,
        lies={face.id: kept.here(lie_of, uncovered(face), relief) for face in every},
        faces={face.id: face for face in every},
        regions={face.id: regions.get(face.id, face.region) for face in every},
        bevelled=bevelled,
        butted=butted,
        min_guide=min_guide,
        planes=frozenset(face.id for face in planes),
        sweeps={(host, against): sweep for sweep in sweeps for host in sweep.hosts for against in sweep.against},
        bents=bents,
    )


@lru_cache(maxsize=REMEMBERED_FACES)
def uncovered(face: Face) -> Face:
    """Return a face without its cover."""
    return replace(face, cover=None)


def beside(making: Making, face: Face, region: Region) -> Making:
    """Return what a panel's blank needs to know of those it meets, and of no others; what covers them is left out."""
    met = {face.id, *(edge.against for loop in region.loops for edge in loop)}
    return replace(
        making,
        lies={part: lie for part, lie in making.lies.items() if part in met},
        faces={part: uncovered(other) for part, other in making.faces.items() if part in met},
        regions={part: cut for part, cut in making.regions.items() if part in met},
        planes=making.planes & met,
        sweeps={key: sweep for key, sweep in making.sweeps.items() if key[0] == face.id and key[1] in met},
        bents=making.bents & met,
    )


@dataclass(frozen=True, slots=True, eq=False)
class FlatLoop:
    """A loop on the visible face, flat, the material on its left, with the leaf every edge lies on."""

    loop: Loop
    leaves: tuple[int, ...]


def split_at_fold(path: Path, fold: Fold | None) -> list[tuple[Curve, int]]:
    """Return curves in pieces that lie on one leaf each, with the leaf's index; host coordinates."""
    if fold is None:
        return [(curve, 0) for curve in path]
    line = np.array([fold.host[0], fold.host[1], -fold.host[2]])
    out = []
    for curve in path:
        marks = [0.0, *curves.crossings(curve, line), 1.0]
        for a, b in pairwise(marks):
            if b - a > 1e-9:
                part = curves.piece(curve, a, b)
                out.append((part, 0 if fold.near(curves.evaluate(part, 0.5))[0] else 1))
    return out


def flat_path(path: Path, lie: Lie) -> Path:
    """Return a host path in the flat frame, exactly, broken at the fold."""
    return tuple(curves.transform(c, lie.leaves[leaf].flat_from_host) for c, leaf in split_at_fold(path, lie.fold))


def flat_loops(region: Region, lie: Lie) -> list[FlatLoop]:
    """Return the visible border in the flat frame: the outline counter-clockwise, then holes clockwise."""
    out = []
    for index, loop in enumerate(region.loops):
        pieces = [
            (Edge(curves.transform(c, lie.leaves[leaf].flat_from_host), edge.against), leaf)
            for edge in loop
            for c, leaf in split_at_fold((edge.curve,), lie.fold)
        ]
        turning = curves.signed_area([edge.curve for edge, _ in pieces])
        if (turning > 0) != (index == 0):
            pieces = [(Edge(curves.reverse(edge.curve), edge.against), leaf) for edge, leaf in reversed(pieces)]
        out.append(FlatLoop(tuple(edge for edge, _ in pieces), tuple(leaf for _, leaf in pieces)))
    return out


def sheet_region(loops: list[FlatLoop], lie: Lie, face: Face, making: Making, depth: float) -> Region:
    """Return the border as it lies ``depth`` mm behind the visible face."""
    out = [_sheet_loop(flat, lie, face, making, depth) for flat in loops]
    return Region(out[0], tuple(out[1:]))


def _sheet_loop(flat: FlatLoop, lie: Lie, face: Face, making: Making, depth: float) -> Loop:
    found = edge_joints(flat, lie, face, making)
    return cut_corners(_offset(flat, lie, found, depth), _corners_outside(flat, lie, found, face, making))


def _corners_outside(
    flat: FlatLoop, lie: Lie, found: tuple[Joint | None, ...], face: Face, making: Making
) -> dict[int, Array | None]:
    """Return what cuts off the corners that square edges run on with out of the box, by the edge before each."""
    runs_on = [joint is not None and joint.back < 0 and (face.id, edge.against) not in making.corners.under
               for edge, joint in zip(flat.loop, found, strict=True)]  # fmt: skip
    if making.bevelled or not any(runs_on):
        return {}
    span = (face.sheet.finish, face.sheet.finish + face.sheet.thickness)
    loop = _offset(flat, lie, found, span[1])
    if len(loop) != len(flat.loop):
        return {}  # its steps stand where the corners are
    return corner_cuts(loop, runs_on, [lie.leaves[leaf] for leaf in flat.leaves], span, making.box)


def _offset(flat: FlatLoop, lie: Lie, found: tuple[Joint | None, ...], depth: float) -> Loop:
    reaches = [joint.reach(depth) if joint else 0.0 for joint in found]
    sweeps = [joint.sweep if joint else None for joint in found]
    return offset_loop(flat.loop, reaches, depth, _breaks(flat, lie), sweeps)


def _breaks(flat: FlatLoop, lie: Lie) -> list[tuple[Array, Array] | None]:
    """Return, for each edge, the fold it ends on, if the next one lies on the other leaf."""
    if lie.fold is None:
        return [None] * len(flat.loop)
    fold = (lie.fold.flat_point, lie.fold.flat_direction)
    following = flat.leaves[1:] + flat.leaves[:1]
    return [fold if a != b else None for a, b in zip(flat.leaves, following, strict=True)]


@lru_cache(maxsize=REMEMBERED)
def edge_joints(flat: FlatLoop, lie: Lie, face: Face, making: Making) -> tuple[Joint | None, ...]:
    """Return the joint of every edge of a loop; nothing where no panel stands against it.

    A mitre is held back where its hidden corner would leave the box: a wall that leans less than half as much as the
    floor rises would else dip its front corner under the floor's hidden edge, by a few hundredths of a millimetre.
    """
    found = tuple(_joint(face, edge, leaf, making) for edge, leaf in zip(flat.loop, flat.leaves, strict=True))
    total = face.sheet.thickness + face.sheet.finish
    outside, count = _corners_outside(flat, lie, found, face, making), len(found)
    cut = {edge for number in outside for edge in (number, (number + 1) % count)}
    cut -= {edge for number, line in outside.items() if line is None for edge in (number, (number + 1) % count)}
    for _ in range(HOLDING_ROUNDS):
        hidden = [edge for edge in _offset(flat, lie, found, total) if edge.against not in ADDED]
        held = [
            joint is not None and joint.reach(total) > 0 and number not in cut for number, joint in enumerate(found)
        ]
        excess = [_excess(edge.curve, lie.leaves[leaf], total, making.box) if hold else 0.0
                  for edge, leaf, hold in zip(hidden, flat.leaves, held, strict=True)]  # fmt: skip
        if not any(excess):
            break
        found = tuple(joint and joint.held_back(back, total) for joint, back in zip(found, excess, strict=True))
    return found


def _joint(face: Face, edge: Edge, index: int, making: Making) -> Joint | None:
    against = edge.against
    sweep = making.sweeps.get((face.id, against))
    if sweep is not None:
        return Joint(math.pi / 2, 0.0, sweep=_flat_sweep(sweep, making.lies[face.id].leaves[index], making.relief))
    other = making.faces.get(against)
    if other is None:
        return None
    mine, theirs = making.lies[face.id].leaves[index], making.lies[against].leaves
    match = next((leaf for leaf in theirs if leaf.near <= mine.near and mine.far <= leaf.far), theirs[-1])
    normal, facing = mine.built_from_flat[:3, 2], match.built_from_flat[:3, 2]
    turned_away = bool(_inside(edge.curve, mine) @ facing < -BEHIND)
    angle = joints.room_angle(normal, facing, turned_away=turned_away)
    mine_mm, theirs_mm = face.sheet.thickness + face.sheet.finish, other.sheet.thickness + other.sheet.finish
    role = making.corners.role(face.id, against, angle)
    if role and not making.bevelled and making.corners.kind(face.id, against, angle) == "tabs":
        on, ending = (face.id, against) if role == "runs on" else (against, face.id)
        under = (on, ending) in making.corners.under
        joint = joints.square_inward(angle, mine_mm, theirs_mm, through=role == "runs on", butted=under)
        return replace(joint, back=-theirs_mm / math.sin(angle)) if under and role == "runs on" else joint
    if role == "ends":
        return joints.abut(angle)
    if role == "runs on":
        beneath = theirs_mm / math.sin(angle) if (face.id, against) in making.corners.under else 0.0
        return Joint(angle, 0.0, back=-beneath)
    if not making.bevelled and role != "folded":
        return _square(face, other, angle, making, turned_away=turned_away)
    if against in making.planes:
        return joints.mitre(angle, mine_mm, 0.0)  # a sheet of no thickness
    if other.through and not turned_away:
        return joints.abut(angle)
    if against == FRAME:
        return joints.butt(joints.room_angle(normal, facing))  # it ends flat on the frame's back
    return joints.mitre(angle, mine_mm, theirs_mm)


def _square(face: Face, other: Face, angle: float, making: Making, *, turned_away: bool) -> Joint:
    """Return the joint of a face's edge cut square.

    Against the front frame, or a part that has no edge of its own here, such as the wall over a doorway's floor, it
    lies on the visible line.
    """
    mine, theirs = face.sheet.thickness + face.sheet.finish, other.sheet.thickness + other.sheet.finish
    if other.id == FRAME:  # the edge is drawn where it meets the frame's back, and there leans off it
        around = angle if turned_away else 2 * math.pi - angle
        return replace(joints.square_behind(around, mine, theirs), angle_rad=angle)
    if other.id in making.planes:  # a sheet of no thickness
        return joints.square_outward(angle, mine, 0.0, through=True) if turned_away else joints.square(angle)
    if other.through and not turned_away:
        return joints.square_inward(angle, mine, theirs, through=False, butted=True)
    if turned_away:
        if not making.meets(other.id, face.id):
            return joints.square(angle)
        return joints.square_outward(angle, mine, theirs, through=making.through(face.id, other.id))
    butted = (making.butted or angle <= math.pi / 2 + joints.RIGHT) and making.meets_once(face.id, other.id)
    return joints.square_inward(angle, mine, theirs, through=making.through(face.id, other.id), butted=butted)


def _flat_sweep(sweep: Sweep, leaf: Leaf, relief: Relief) -> FlatSweep:
    """Return a sweep in a leaf's flat frame: parallel lines of the imagined room meet in one built point."""
    built_from_imagined = np.eye(4) if leaf.far <= relief.apron + APRON_TOUCH else relief.built_from_imagined
    flat_from_imagined = frames.invert_rigid(leaf.built_from_flat) @ built_from_imagined
    ways = np.column_stack([np.vstack([sweep.way, sweep.across]), np.zeros(1 + len(sweep.across))])
    met = ways @ flat_from_imagined.T
    return FlatSweep(meeting=met[0], across=met[1:])


def _inside(curve: Curve, leaf: Leaf) -> Array:
    """Return the built unit direction from the middle of an edge into its own sheet, along the visible face."""
    way = curves.tangent(curve, 0.5)
    inside: Array = leaf.built_from_flat[:3, :2] @ np.array([-way[1], way[0]]) / np.linalg.norm(way)
    return inside


def _excess(edge: Curve, leaf: Leaf, depth: float, box: tuple[Array, ...]) -> float:
    """Return how far a hidden edge must go back inward for its ends to lie inside the box, mm.

    Not at all where nothing is left of it: what is wrong with such a panel is said of all of it.
    """
    way = edge.end - edge.start
    size = float(np.linalg.norm(way))
    if size == 0.0:
        return 0.0
    outward = leaf.built_from_flat[:3, :2] @ np.array([way[1], -way[0]]) / size
    ends = np.array([[*edge.start, -depth], [*edge.end, -depth]])
    back = 0.0
    for point in frames.apply(leaf.built_from_flat, ends):
        for plane in box:
            past, along = -(point @ plane[:3] + plane[3]), -(outward @ plane[:3])
            if past > 0 and along > LEAST_ALONG:
                back = max(back, past / along)
    return float(back)
