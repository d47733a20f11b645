"""What checks look at, and what a check is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import manifold3d
import numpy as np
from numpy.typing import NDArray

from pipeline.casework.boards import Board, Casework
from pipeline.checks.model import Finding
from pipeline.checks.written import WrittenDrawing, read_dxf, read_stl
from pipeline.elements.model import Imagined
from pipeline.geometry import frames
from pipeline.geometry.between import broad_ways
from pipeline.geometry.meshes import Mesh, join
from pipeline.keeping.kept import NOTHING_KEPT, Kept
from pipeline.parts.bent import BentPanel
from pipeline.parts.lighting.leds import Led
from pipeline.parts.lighting.model import Cast
from pipeline.parts.model import Panel, Print
from pipeline.parts.nets import Net
from pipeline.parts.order import Bench
from pipeline.parts.outlines import uncovered
from pipeline.parts.stencils import Stencil
from pipeline.parts.wires import Wiring
from pipeline.room.measure import Room
from pipeline.scene.model import Scene
from pipeline.sheets.stock import Filled
from pipeline.sight.rays import Target
from pipeline.stages.touching import Pair, find_gaps, reach_of

Array = NDArray[np.float64]


class _Targets(dict[str, Target]):
    """Triangles by part, made ready when first asked for."""

    def __init__(self, corners: Mapping[str, Array]) -> None:
        super().__init__()
        self._corners = corners

    def __missing__(self, part: str) -> Target:
        return self.setdefault(part, Target.of(self._corners[part]))


class _Ways(dict[str, Array]):
    """Broad ways by part, found when first asked for."""

    def __init__(self, meshes: Mapping[str, Mesh]) -> None:
        super().__init__()
        self._meshes = meshes

    def __missing__(self, part: str) -> Array:
        return self.setdefault(part, broad_ways(self._meshes[part]))


@dataclass(frozen=True, kw_only=True, eq=False)
class Evidence:
    """A built scene: what was asked, what was made, and the bytes that were written.

    Attributes
    ----------
    scene, room, imagined
        What was asked.
    panels, bents, prints
        What was made of it.
    entries
        The manifest's entry of every part, by id.
    nets
        Panels that stay in one piece.
    wiring
        The lights' wires, where the scene asks for them.
    bench
        What is in whose way when parts are pushed in.
    sheets, sheet_notes, files
        What lies where on the stock, what is to be said of it, and relative path to the bytes of panels, sheets and
        prints; empty until written.
    casework
        The box's own boards, where it is to be made.
    casts, leds, stencils
        What the scene's lights do in the imagined room, and as they are built, and what it is sprayed with.
    kept
        What earlier builds made.
    """

    scene: Scene
    room: Room
    imagined: Imagined
    panels: tuple[Panel, ...]
    bents: tuple[BentPanel, ...]
    prints: tuple[Print, ...]
    entries: dict[str, dict[str, Any]]
    bench: Bench
    nets: tuple[Net, ...] = ()
    wiring: Wiring | None = None
    sheets: tuple[Filled, ...] = ()
    sheet_notes: tuple[str, ...] = ()
    files: dict[str, bytes] = field(default_factory=dict)
    casework: Casework | None = None
    casts: tuple[Cast, ...] = ()
    leds: tuple[Led, ...] = ()
    stencils: tuple[Stencil, ...] = ()
    kept: Kept = NOTHING_KEPT

    @property
    def boards(self) -> tuple[Board, ...]:
        """The boards of the box, where it is to be made."""
        return () if self.casework is None else self.casework.boards

    @property
    def boards_cut(self) -> tuple[Board, ...]:
        """The boards that this scene lays on sheets and buys: none in a lid, whose box's scene has them already."""
        return () if self.scene.box.part == "lid" else self.boards

    @property
    def parts(self) -> tuple[Panel | BentPanel | Print, ...]:
        """Every part, panels first."""
        return (*self.panels, *self.bents, *self.prints)

    @property
    def shapes(self) -> tuple[object, ...]:
        """All that a question depends on which asks only how the parts lie before the eye, whatever they wear."""
        sheets = tuple((part.id, part.body, part.visible, part.cut_edges) for part in self.cut_parts)
        prints = tuple((part.id, part.body, part.skin_imagined) for part in self.prints)
        said = self.imagined
        left_out = (said.unseen, said.unseen_webs, tuple(map(uncovered, said.planes)), said.cuts)
        return (self.scene.eye, self.room.relief, self.room.hall.shape, self.room.box, sheets, prints, left_out)

    @property
    def cut_parts(self) -> tuple[Panel | BentPanel, ...]:
        """Every part cut from sheet, flat ones first."""
        return (*self.panels, *self.bents)

    @property
    def pieces(self) -> tuple[Panel | BentPanel | Net | Board | Stencil, ...]:
        """Everything cut from sheet in one piece: panels on no net, bent ones, nets, boards, stencils."""
        inside = {panel.id for net in self.nets for panel in net.panels}
        panels = (panel for panel in self.panels if panel.id not in inside)
        masks = (stencil for stencil in self.stencils if stencil.material)
        return (*panels, *self.bents, *self.nets, *self.boards_cut, *masks)

    @property
    def whole_prints(self) -> tuple[tuple[Print, ...], ...]:
        """The prints, those that are pieces of one together."""
        wholes: dict[str, list[Print]] = {}
        for part in self.prints:
            wholes.setdefault(part.solid.id, []).append(part)
        return tuple(map(tuple, wholes.values()))

    @cached_property
    def drawings(self) -> dict[str, WrittenDrawing]:
        """The written DXF of every panel, read back."""
        return {
            panel.id: self.kept.of(read_dxf, self.files[self.entries[panel.id]["files"]["dxf"]])
            for panel in self.cut_parts
        }

    @cached_property
    def net_drawings(self) -> dict[str, WrittenDrawing]:
        """The written DXF of every net, read back."""
        return {net.id: self.kept.of(read_dxf, self.files[f"panels/{net.id}.dxf"]) for net in self.nets}

    @cached_property
    def shells_built(self) -> dict[str, Array]:
        """Corners ``(m, 3, 3)`` of every print's written STL, placed by the manifest, built mm."""
        return {
            part: frames.apply(self.built_from_bed(part), corners.reshape(-1, 3)).reshape(-1, 3, 3)
            for part, corners in self.shells_bed.items()
        }

    def built_from_bed(self, part: str) -> Array:
        """Return the ``(4, 4)`` matrix that the manifest gives for a print."""
        return np.array(self.entries[part]["built_from_bed"])

    @cached_property
    def shells_bed(self) -> dict[str, Array]:
        """Corners ``(m, 3, 3)`` of every print's written STL, on the bed, mm."""
        return {part.id: read_stl(self.files[self.entries[part.id]["files"]["stl"]]) for part in self.prints}

    @cached_property
    def targets(self) -> Mapping[str, Target]:
        """`shells_bed` made ready for rays, each when it is first asked for: that takes as long as a thousand rays."""
        return _Targets(self.shells_bed)

    @cached_property
    def meshes(self) -> dict[str, Mesh]:
        """Every part's closed mesh, built mm."""
        return {part.id: part.body for part in self.parts}

    @cached_property
    def ways(self) -> Mapping[str, Array]:
        """The directions of every part's broadest sides, each found when it is first asked for."""
        return _Ways(self.meshes)

    @cached_property
    def whole(self) -> Target:
        """All parts' bodies made ready for rays, together and in order, built mm."""
        return Target.on(join([part.body for part in self.parts]))

    @cached_property
    def bodies(self) -> dict[str, manifold3d.Manifold]:
        """Every part as a closed body, built mm."""
        return {part.id: self.kept.of(as_manifold, part.body) for part in self.parts}

    @cached_property
    def gaps(self) -> dict[Pair, float]:
        """How far apart every two parts are that come near one another, mm; at most as far as they may be and touch."""
        fit, finishes = self.scene.make.fit, self._finishes

        def find() -> dict[Pair, float]:
            return find_gaps(self.bodies, self.meshes, fit, finishes, self.kept)

        return self.kept.given((find_gaps, self.meshes, fit, finishes), find, shelved=False)

    @property
    def touching(self) -> dict[Pair, float]:
        """Every two parts that touch, and how far they are apart, mm."""
        fit, finishes = self.scene.make.fit, self._finishes
        return {pair: gap for pair, gap in self.gaps.items() if gap < reach_of(pair, fit, finishes)}

    @property
    def _finishes(self) -> dict[str, float]:
        return {panel.id: panel.finish for panel in self.panels if panel.finish > 0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A check: a permanent id, a question, why it matters at the bench, and how it is answered."""

    id: str
    title: str
    rationale: str
    run: Callable[[Evidence], list[Finding]]


def as_manifold(mesh: Mesh) -> manifold3d.Manifold:
    """Return a mesh as a body for booleans."""
    return manifold3d.Manifold(
        manifold3d.Mesh64(np.array(mesh.vertices, order="C"), np.array(mesh.triangles, dtype=np.uint64, order="C"))
    )
