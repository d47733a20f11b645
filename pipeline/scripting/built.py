"""A built scene in a notebook: its parts as shapes, its checks, and its files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.build import Build
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.commands.attempts import Attempt
from pipeline.commands.built_folders import built_folder
from pipeline.commands.cut_marks import forget, mark
from pipeline.commands.model import Exit, InputError
from pipeline.commands.publishing import published, recovered
from pipeline.commands.scene_files import SceneFile
from pipeline.exports.stl import write_stl
from pipeline.geometry.curves import flatten_path
from pipeline.geometry.meshes import Mesh
from pipeline.geometry.regions import Loop, path_of
from pipeline.parts.bed import on_bed
from pipeline.parts.model import Print
from pipeline.report.comparing import TOLERANCE, Compared, Version, compare, versions
from pipeline.scene.nearest import nearest
from pipeline.scripting.showing import build_html

if TYPE_CHECKING:
    import trimesh

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """A panel, a bent panel or a print of a built scene.

    Attributes
    ----------
    entry
        What the manifest says of it.
    body
        Closed, built mm.
    files
        Its files by format: ``dxf`` and ``svg`` of what is cut, ``stl`` of prints.
    region
        What is cut, flat mm; nothing of prints.
    """

    entry: Mapping[str, Any]
    body: Mesh
    files: Mapping[str, bytes]
    region: shapely.Polygon | None

    @property
    def id(self) -> str:
        """Part id, as its files are named."""
        return str(self.entry["id"])

    @property
    def made_as(self) -> str:
        """``panel``, ``bent panel`` or ``print``."""
        return str(self.entry["made_as"])

    @property
    def outline(self) -> shapely.Polygon:
        """Outline and holes of what is cut, a shapely polygon, flat mm, curves within ``make.curve_tolerance``.

        Raises
        ------
        TypeError
            If the part is a print, which has none.
        """
        if self.region is None:
            raise TypeError(f"{self.id} is a print and has no outline; its shape is .solid()")
        return self.region

    def solid(self) -> trimesh.Trimesh:
        """Return the part's closed body as a trimesh mesh where it stands in the box, built mm.

        Raises
        ------
        ImportError
            Without trimesh (``pip install '.[notebook]'``).
        """
        return as_trimesh(self.body)

    def __repr__(self) -> str:
        of = f" of {self.entry['material']}" if self.entry.get("material") else ""
        return f"<{self.made_as} {self.id}{of}>"

    def _repr_svg_(self) -> str | None:
        svg = self.files.get("svg")
        return svg[svg.index(b"<svg") :].decode() if svg else None


class Parts(dict[str, Part]):
    """Parts by id; asked for one that is not there, it tells which are."""

    def __missing__(self, part: str) -> Part:
        near = nearest(part, self)
        hint = f"did you mean {near}?" if near else f"there are {', '.join(self) or 'none'}"
        raise KeyError(f"no such part: {part}; {hint}")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeshPart:
    """A mesh taken through a relief alone.

    Attributes
    ----------
    made
        As the build would print it.
    """

    made: Print

    @property
    def stl(self) -> bytes:
        """The print as it lies on the bed, STL."""
        return write_stl(on_bed(self.made.body, self.made.built_from_bed), self.made.id)

    def solid(self) -> trimesh.Trimesh:
        """Return it as a trimesh mesh where it stands in the box, built mm."""
        return as_trimesh(self.made.body)

    def __repr__(self) -> str:
        return f"<print {self.made.id}>"


@dataclass(frozen=True, kw_only=True, eq=False)
class BuiltScene:
    """Everything a scene makes, in memory.

    Attributes
    ----------
    stem
        Name of the export folder.
    build
        The files as bytes and the manifest.
    evidence
        The shapes they were written from.
    """

    stem: str
    build: Build
    evidence: Evidence

    @property
    def files(self) -> Mapping[str, bytes]:
        """Every file by its path in the export folder."""
        return self.build.files

    @property
    def manifest(self) -> Mapping[str, Any]:
        """What ``manifest.json`` says."""
        return self.build.manifest

    @property
    def relief(self) -> Mapping[str, Any]:
        """The figures of the relief, mm."""
        return dict(self.build.manifest["relief"])

    @property
    def failed(self) -> int:
        """Number of failed checks."""
        return self.build.failed

    @cached_property
    def checks(self) -> tuple[Finding, ...]:
        """Every answer of every check."""
        return tuple(Finding(**entry) for entry in self.build.manifest["checks"])

    @cached_property
    def built_from_imagined(self) -> Array:
        """``(4, 4)``, homogeneous column vectors, mm: the relief behind the apron."""
        return np.array(self.build.manifest["built_from_imagined"])

    @cached_property
    def parts(self) -> Mapping[str, Part]:
        """Every part by id, in the order of work."""
        made = {part.id: part for part in self.evidence.parts}
        tolerance = self.evidence.scene.make.curve_tolerance
        out = Parts()
        for entry in self.build.manifest["parts"]:
            part = made[entry["id"]]
            region = None
            if not isinstance(part, Print):
                outline, *holes = (_ring(loop, tolerance) for loop in part.cut.loops)
                region = shapely.Polygon(outline, holes)
            files = {kind: self.build.files[name] for kind, name in entry["files"].items()}
            out[part.id] = Part(entry=entry, body=part.body, files=files, region=region)
        return out

    def write(self, out: str | Path = "exports") -> Path:
        """Write the export folder, as a whole or not at all, and return it.

        Raises
        ------
        InputError
            If the folder holds anything that is not of this program, is in use, or cannot be written.
        """
        recovered(Path(out))
        file = SceneFile(path=Path(f"{self.stem}.toml"), stem=self.stem)
        done = published(Attempt(scene=file, exit=Exit.DONE, build=self.build), Path(out))
        if done.folder is None:
            raise InputError("\n".join(done.errors))
        return done.folder

    def compare(self, old: BuiltScene | str | Path, tolerance: float = TOLERANCE) -> tuple[Compared, ...]:
        """Return which parts of an earlier build, or of an export folder, are still good for this one.

        Parameters
        ----------
        old
            What was made.
        tolerance
            mm that the bench makes up for.

        Raises
        ------
        InputError
            If the folder is none of this program's.
        """
        before = old.versions if isinstance(old, BuiltScene) else built_folder(Path(old)).versions()
        return compare(before, self.versions, tolerance)

    @cached_property
    def versions(self) -> dict[str, Version]:
        """Every part as builds are compared by."""
        return versions(self.build.manifest, self.build.files.__getitem__)

    def mark_as_cut(self, *parts: str, out: str | Path = "exports") -> None:
        """Remember parts of the written folder as cut, so that every later build is held against them.

        Raises
        ------
        InputError
            If there is no such part, or the folder was not written.
        """
        folder = Path(out) / self.stem
        known = built_folder(folder).versions()
        if unknown := [name for name in parts if name not in known]:
            raise InputError(f"{folder}: no such part: {', '.join(unknown)}", f"there are {', '.join(known)}")
        mark(folder, {name: known[name] for name in parts})

    def forget_cut(self, *parts: str, out: str | Path = "exports") -> None:
        """Forget that parts of the written folder were cut."""
        forget(Path(out) / self.stem, list(parts))

    def __repr__(self) -> str:
        many = f"{len(self.manifest['parts'])} parts, {len(self.files)} files"
        warned = sum(finding.status == "warn" for finding in self.checks)
        return f"<built scene {self.stem}: {many}; checks: {warned} to look at, {self.failed} failed>"

    def _repr_html_(self) -> str:
        return build_html(self.build)


def as_trimesh(mesh: Mesh) -> trimesh.Trimesh:
    """Return a mesh as trimesh holds it, vertices as they are.

    Raises
    ------
    ImportError
        Without trimesh.
    """
    try:
        import trimesh
    except ImportError as error:
        raise ImportError("solids as trimesh need it installed: .venv/bin/pip install '.[notebook]'") from error
    return trimesh.Trimesh(vertices=mesh.vertices, faces=mesh.triangles, process=False)


def _ring(loop: Loop, tolerance: float) -> Array:
    return flatten_path(path_of(loop), tolerance)
