"""One scene, looked at again whenever it or a knob changes; all pages in a browser show the same session.

Heavy work runs on one thread of its own, so that figures and the pages never wait for it, and what is no longer
wanted is left off between its steps.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Protocol

from pipeline.build import Overrides
from pipeline.keeping.kept import Kept
from pipeline.live import state as states
from pipeline.live.buffers import Buffer
from pipeline.live.knobs import Values, settings, values_of
from pipeline.live.looking import Fault, Glance, Outline, Shapes, UnwantedError, faults_of, glance, judge, look
from pipeline.live.state import Building, State
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene
from pipeline.stages import STAGES

PAUSE = 0.2
"""Seconds between two looks at the file."""

MOST_BUFFERS = 8
"""Of the last four rooms at least: a browser that is slow may still ask for one of those before."""

REST = 0.1
"""Seconds without another move before shapes are made: while something is dragged the browser needs the machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """A scene file and the files it names."""

    text: bytes
    files: Mapping[str, bytes] = field(default_factory=dict)


class RefusedError(Exception):
    """The disk, or what stands there, does not allow it; the text says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """What became of a build, line by line."""

    lines: tuple[str, ...]
    refused: bool


class Disk(Protocol):
    """Everything the page does outside itself. All may raise ``RefusedError``, none blocks for ever."""

    name: str

    def stamp(self) -> tuple[object, bool]:
        """Return how the scene's files stand, and whether the scene itself is there."""

    def read(self, overrides: Overrides) -> Read:
        """Return the scene and the files it names under some settings, or raise ``SceneFileError``."""

    def text(self) -> bytes:
        """Return the scene's text."""

    def save(self, text: bytes, values: Values) -> None:
        """Write values into the file, if it still is what it was."""

    def build(self, begins: Callable[[str], None]) -> Built:
        """Build the file as it stands into its folder."""


def values_in(text: bytes) -> Values:
    """Return the numbers a scene file gives, nothing set over them.

    Raises
    ------
    SceneFileError
        With every problem of the scene, placed in its file.
    """
    return values_of(read_scene(text))


class Session:
    """The state, and the work that keeps it up to date."""

    def __init__(self, disk: Disk) -> None:
        self.state = State(name=disk.name)
        self.version = 0
        self._disk = disk
        self._kept = Kept(heed=self._heed)
        self._shaping = 0
        self._heavy = ThreadPoolExecutor(1, thread_name_prefix="look")
        self._asked = asyncio.Event()
        self._asked.set()
        self._text = b""
        self._buffers: dict[str, Buffer] = {}

    def buffer(self, name: str) -> Buffer | None:
        """Return a buffer of the shapes shown now or shortly before."""
        return self._buffers.get(name)

    def move(self, key: str, value: float) -> None:
        """Set one value."""
        self._become(states.move(self.state, key, value))

    def take_back(self) -> None:
        """Go back to the file's values."""
        self._become(states.take_back(self.state))

    async def watch(self) -> None:
        """Look at the file a few times a second, for ever."""
        seen, _ = await asyncio.to_thread(self._disk.stamp)
        while True:
            await asyncio.sleep(PAUSE)
            stamp, there = await asyncio.to_thread(self._disk.stamp)
            if stamp != seen:
                seen = stamp
                self._become(states.change_file(self.state) if there else states.lose_file(self.state))

    async def follow(self) -> None:
        """Answer whatever is asked, the latest only, for ever."""
        while True:
            await self._asked.wait()
            self._asked.clear()
            await self._answer(self.state.serial)

    async def save(self) -> bool:
        """Write what was moved into the file; return whether it stands there now."""
        moved = self.state.moved
        if not moved:
            return True
        if self.state.faults or self.state.gone:
            self._become(replace(self.state, notice="not saved: first repair what is wrong with the scene"))
            return False
        try:
            await asyncio.to_thread(self._disk.save, self._text, moved)
        except RefusedError as error:
            self._become(replace(self.state, notice=f"not saved: {error}"))
            return False
        what = ", ".join(f"{key} = {value:g}" for key, value in moved)
        self._become(states.saved(self.state, f"saved to {self.state.name}: {what}"))
        return True

    async def build(self) -> None:
        """Save, and build the file; a second build while one runs is refused."""
        if self.state.building is not None and self.state.building.stage is not None:
            self._become(replace(self.state, notice="a build is under way; wait for it"))
            return
        self._become(replace(self.state, building=Building(stage=(0, len(STAGES) + 1, "saving"))))
        if not await self.save():
            self._become(replace(self.state, building=None))
            return
        loop = asyncio.get_running_loop()

        def begins(stage: str) -> None:
            at = STAGES.index(stage) + 1 if stage in STAGES else len(STAGES) + 1
            loop.call_soon_threadsafe(self._building, Building(stage=(at, len(STAGES) + 1, stage)))

        try:
            built = await asyncio.to_thread(self._disk.build, begins)
        except RefusedError as error:
            built = Built(lines=(str(error),), refused=True)
        loop.call_soon(self._building, Building(stage=None, lines=built.lines, failed=built.refused))

    def _building(self, building: Building) -> None:
        self._become(replace(self.state, building=building))

    def _become(self, state: State) -> None:
        if state is self.state:
            return
        if state.serial != self.state.serial:
            self._asked.set()
        self.state = state
        self.version += 1

    async def _answer(self, serial: int) -> None:
        overrides = settings(self.state.moved)
        try:
            read, seen = await asyncio.to_thread(self._glance, overrides)
            if serial != self.state.serial:
                return
            self._text = read.text
            self._become(states.read_file(self.state, seen.values if not overrides else values_in(read.text)))
            if settings(self.state.moved) != overrides:  # the file has values of its own now where ours were
                self._become(states.change_file(self.state))
                return
            self._become(states.glimpse(self.state, serial, seen))
            await self._shape(serial, read, overrides)
        except SceneFileError as error:
            text = await asyncio.to_thread(self._disk.text)
            self._become(states.refuse(self.state, serial, faults_of(error, self.state.name, text)))
        except RefusedError as error:
            self._become(states.refuse(self.state, serial, (Fault(text=str(error)),)))
        except Exception as fault:  # the page outlives a fault of the program, and says it
            said = f"a fault of the program: {type(fault).__name__}: {fault}"
            self._become(states.refuse(self.state, serial, (Fault(text=said),)))

    def _glance(self, overrides: Overrides) -> tuple[Read, Glance]:
        read = self._disk.read(overrides)
        return read, glance(read.text, overrides)

    async def _shape(self, serial: int, read: Read, overrides: Overrides) -> None:
        loop = asyncio.get_running_loop()

        def wanted() -> bool:
            return self.state.serial == serial

        def show(outlines: tuple[Outline, ...], shapes: Shapes | None) -> None:
            if not wanted():
                raise UnwantedError
            loop.call_soon_threadsafe(self._form, serial, outlines, shapes)

        await asyncio.sleep(REST if self.state.shapes is not None else 0)
        if not wanted():
            return
        self._shaping = serial
        try:
            shaped = await loop.run_in_executor(self._heavy, look, read.text, overrides, read.files, self._kept, show)
            findings = await loop.run_in_executor(self._heavy, judge, shaped, read.text, overrides, wanted)
        except UnwantedError:
            return
        if findings is not None:
            self._become(states.judged(self.state, serial, findings))

    def _heed(self) -> None:
        """End a shaping that has been overtaken, at the next thing it would make: nothing waits for the old one."""
        if self.state.serial != self._shaping:
            raise UnwantedError

    def _form(self, serial: int, outlines: tuple[Outline, ...], shapes: Shapes | None) -> None:
        if shapes is not None:
            for buffer in shapes.buffers:
                self._buffers.pop(buffer.name, None)
                self._buffers[buffer.name] = buffer
            self._buffers = dict(list(self._buffers.items())[-MOST_BUFFERS:])
        self._become(states.form(self.state, serial, outlines, shapes))
