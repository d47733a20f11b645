"""A scene file taken in hand: looked at, varied, built, and everything else that the commands do with one."""

from __future__ import annotations

import itertools
import json
from collections.abc import Generator, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.build import build_scene
from pipeline.commands.attempts import Attempt, Gathered, gather
from pipeline.commands.begin import checked
from pipeline.commands.coupon import kerf_of, known_material, test_pieces
from pipeline.commands.layout_files import layout_path, layout_refusal
from pipeline.commands.model import InputError
from pipeline.commands.nest import searched_layout
from pipeline.commands.plain_files import write_over
from pipeline.commands.scene_files import SceneFile, read_bytes, scene_files
from pipeline.commands.warp import warped
from pipeline.elements.problems import SceneError
from pipeline.keeping.kept import Kept
from pipeline.room.choosing import Choice, Goal, Sought, Varied, holds_depth, own_choice, row, seek
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import placed_error, read_scene
from pipeline.scene.starter import Wishes, starter_scene
from pipeline.scripting.built import BuiltScene, MeshPart
from pipeline.sheets.refusals import LayoutError

if TYPE_CHECKING:
    from pipeline.checks.evidence import Evidence
    from pipeline.scene.model import Scene

Value = str | float | bool | list["Value"]


def load(path: str | Path, *, allow_outside: bool = False) -> LoadedScene:
    """Return a scene file, read and found free of mistakes.

    Parameters
    ----------
    path
        The scene file, TOML.
    allow_outside
        Whether the mesh files it names may lie outside its own folder.

    Raises
    ------
    InputError
        If it cannot be read, with one line for every mistake: where it is, what was found, what is allowed, what to do.
    """
    scene = LoadedScene(file=scene_files([Path(path)], allow_outside)[0], kept=Kept())
    _ = scene.tables
    return scene


def begin(title: str = "My room", **wishes: Any) -> str:
    """Return the text of a commented starter scene that builds as it is.

    Parameters
    ----------
    title
        Of the scene.
    wishes
        As `pipeline.scene.starter.Wishes` has them: ``box=(180, 150, 85)``, ``kind="vault"``, ``printer=False``.

    Raises
    ------
    InputError
        If no such thing can be wished for, or no room of that kind stands in the box.
    """
    known = [field.name for field in fields(Wishes)]
    if unknown := [name for name in wishes if name not in known]:
        raise InputError(f"begin takes no {', '.join(unknown)}", f"it takes {', '.join(known)}")
    return starter_scene(checked(Wishes(title=title, **wishes)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoadedScene:
    """A scene file, with values set over its own.

    Attributes
    ----------
    file
        Where it is, and what is set over it.
    kept
        What this process keeps of its builds, so that the next one only makes what changed.
    """

    file: SceneFile
    kept: Kept

    @property
    def tables(self) -> Scene:
        """The scene's tables with every value that the file leaves out."""
        with self._refusals():
            return read_scene(read_bytes(self.file.path), self.file.settings)

    def setting(self, values: Mapping[str, Value]) -> LoadedScene:
        """Return the same scene with other values, by key: ``scene.setting({"eye.distance": 380})``.

        Raises
        ------
        InputError
            If the scene cannot have such a value.
        """
        more = tuple((key, value if isinstance(value, str) else json.dumps(value)) for key, value in values.items())
        varied = replace(self, file=replace(self.file, settings=(*self.file.settings, *more)))
        _ = varied.tables
        return varied

    def __repr__(self) -> str:
        over = "".join(f", {key} = {value}" for key, value in self.file.settings)
        return f"<scene {self.file.path}{over}>"

    def build(self) -> BuiltScene:
        """Return everything the scene makes, in memory; `BuiltScene.write` puts it on the disk.

        Raises
        ------
        InputError
            If the scene, a mesh or the layout file beside it is at fault.
        """
        found: list[Evidence] = []
        taken = self._gathered()
        with self._refusals():
            build = build_scene(
                taken.text,
                self.file.stem,
                self.file.settings,
                taken.files,
                layout=taken.layout,
                kept=self.kept,
                made=found.append,
            )
        return BuiltScene(stem=self.file.stem, build=build, evidence=found[0])

    def sweep(self, values: Mapping[str, Iterable[Value]]) -> Iterator[tuple[dict[str, Value], BuiltScene]]:
        """Return an iterator over every combination of the values with its build, the last key running fastest.

        Raises
        ------
        InputError
            At once, if the scene cannot have one of the combinations; while iterating, if one cannot be built.
        """
        for key, several in values.items():
            if isinstance(several, str) or not isinstance(several, Iterable):
                raise InputError(f"{key}: {several!r} is one value", "give several, as in [300, 350, 400]")
        combined = [dict(zip(values, one, strict=True)) for one in itertools.product(*values.values())]
        scenes = [self.setting(one) for one in combined]
        return ((one, scene.build()) for one, scene in zip(combined, scenes, strict=True))

    def depths(self, distances: Iterable[float]) -> list[Choice]:
        """Return what each eye distance (mm from the opening) would mean.

        Raises
        ------
        InputError
            If there is no room from one of them.
        """
        scene, own = self._own()
        with self._refusals():
            return [row(scene, own, distance, hold_depth=holds_depth(scene)) for distance in distances]

    def seek(self, goal: Goal, wanted: float, varied: Varied = "eye.distance") -> Sought:
        """Return where a figure is met: a ``back_width`` in mm, a ``rake`` in degrees, a ``smallest_unit`` in mm.

        Raises
        ------
        InputError
            If the scene cannot be measured.
        """
        scene, own = self._own()
        if goal == "smallest_unit" and own.unit is None:
            raise InputError(
                "smallest_unit: no surface of this scene has a cover to measure", "give one a cover, or leave it out"
            )
        return seek(scene, own, goal, wanted, varied)

    def coupon(self, material: str) -> dict[str, bytes]:
        """Return the test pieces of a material by file ending: ``.dxf``, ``.svg`` and the words that go with them.

        Raises
        ------
        InputError
            If the scene has no such material, or they do not fit its sheet.
        """
        scene = self.tables
        known_material(scene, material, self.file.path)
        command = f"foreshorten coupon {material} --scene {self.file.path} --read"
        return test_pieces(scene, material, self.file.path, command)[0]

    def kerf(self, material: str, measured: float) -> float:
        """Return the kerf that a material's gauge tells, pushed together and measured, mm.

        Raises
        ------
        InputError
            If the scene has no such material, or no cut is so wide.
        """
        return kerf_of(known_material(self.tables, material, self.file.path), measured)

    def nest(self, seconds: float = 20.0, seed: int = 1) -> Path:
        """Search for a closer layout of the sheets, write it beside the scene, and return the file.

        Raises
        ------
        InputError
            If the scene is at fault, or nothing of it is cut from sheet.
        """
        taken = self._gathered()
        with self._refusals():
            layout, _ = searched_layout(
                self.file.path, taken.text, taken.files, seconds=seconds, seed=seed, settings=self.file.settings
            )
        write_over(layout_path(self.file.path), layout)
        return layout_path(self.file.path)

    def warp(self, mesh: str | Path, **keys: Value) -> MeshPart:
        """Return one mesh file taken through the scene's relief; ``keys`` are those of ``[[meshes]]``.

        Raises
        ------
        InputError
            If the mesh or a key is at fault.
        """
        with self._refusals():
            return MeshPart(made=warped(self.file.path, self.file.settings, Path(mesh), keys).part)

    def _own(self) -> tuple[Scene, Choice]:
        with self._refusals():
            scene = self.tables
            return scene, own_choice(scene)

    def _gathered(self) -> Gathered:
        taken = gather(self.file, ())
        if isinstance(taken, Attempt):
            raise InputError("\n".join(taken.errors))
        return taken

    @contextmanager
    def _refusals(self) -> Generator[None, None, None]:
        """Say what is wrong with the scene as the command line does."""
        try:
            yield
        except SceneFileError as error:
            raise InputError("\n".join(error.describe(str(self.file.path)))) from error
        except SceneError as error:
            placed = placed_error(read_bytes(self.file.path), error.problems, self.file.settings)
            raise InputError("\n".join(placed.describe(str(self.file.path)))) from error
        except LayoutError as error:
            raise InputError(layout_refusal(self.file.path, error)) from error
