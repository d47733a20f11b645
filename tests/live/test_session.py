"""One scene looked at again and again, with a disk that is a value."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

import pytest

from pipeline.live.knobs import Values
from pipeline.live.session import Built, Read, RefusedError, Session
from pipeline.stages import STAGES
from pipeline.stages.prints import make_prints, raise_units
from tests.live.test_state import SCENE


class Memory:
    """A disk with one file on it."""

    name = "a.toml"

    def __init__(self) -> None:
        self.content: bytes | None = SCENE
        self.saved: list[Values] = []
        self.builds = 0

    def stamp(self) -> tuple[object, bool]:
        return self.content, self.content is not None

    def text(self) -> bytes:
        if self.content is None:
            raise RefusedError("a.toml: no such file or directory")
        return self.content

    def read(self, overrides: tuple[tuple[str, str], ...]) -> Read:
        return Read(text=self.text())

    def save(self, text: bytes, values: Values) -> None:
        if self.content != text:
            raise RefusedError("a.toml: was changed while we read it")
        self.saved.append(values)

    def build(self, begins: Callable[[str], None]) -> Built:
        self.builds += 1
        for stage in STAGES:
            begins(stage)
        return Built(lines=("a: built",), refused=False)


def in_session(work: Callable[[Session, Memory], Awaitable[None]]) -> None:
    """Do something with a session that follows what it is asked."""

    async def run() -> None:
        disk = Memory()
        session = Session(disk)
        following = asyncio.create_task(session.follow())
        await until(lambda: session.state.judged)
        try:
            await work(session, disk)
        finally:
            following.cancel()

    asyncio.run(run())


async def until(reached: Callable[[], object]) -> None:
    while not reached():
        await asyncio.sleep(0.01)


def test_only_the_last_of_many_moves_is_looked_at_to_the_end() -> None:
    """A drag asks for hundreds of rooms; what is shown in the end is the last of them."""

    async def drag(session: Session, disk: Memory) -> None:
        first = session.state.shapes
        for distance in range(419, 299, -1):
            session.move("eye.distance", distance)
        await until(lambda: session.state.judged)
        assert session.state.shapes is not first
        assert session.state.shapes is not None
        assert session.state.shapes.stand.eye[1] == -300
        for buffer in session.state.shapes.buffers:
            assert session.buffer(buffer.name) is buffer

    in_session(drag)


def test_a_room_that_is_overtaken_is_given_up_at_the_next_thing_it_would_make(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its prints and its order of work would take as long again; the new room is begun instead."""
    made: list[str] = []

    async def overtaken(session: Session, disk: Memory) -> None:
        def prints(*arguments: object) -> object:
            made.append("prints")
            session.move("eye.distance", 333)
            return make_prints(*arguments)  # type: ignore[arg-type]

        def units(*arguments: object, **named: object) -> object:
            made.append("units")
            return raise_units(*arguments, **named)  # type: ignore[arg-type]

        monkeypatch.setattr("pipeline.build.make_prints", prints)
        monkeypatch.setattr("pipeline.build.raise_units", units)
        session.move("eye.distance", 350)
        await until(lambda: made)
        monkeypatch.setattr("pipeline.build.make_prints", make_prints)
        await until(lambda: session.state.judged)
        assert session.state.shapes is not None
        assert session.state.shapes.stand.eye[1] == -333

    in_session(overtaken)
    assert made == ["prints", "units"], "only the second room came so far"


def test_a_slow_browser_still_gets_the_room_before() -> None:
    """What it was told of a moment ago is there though another room has come; of long ago nothing is held."""

    async def many(session: Session, disk: Memory) -> None:
        names = []
        for distance in range(419, 409, -1):
            session.move("eye.distance", distance)
            await until(lambda: session.state.judged)
            assert session.state.shapes is not None
            names.append(session.state.shapes.buffers[1].name)
        assert len(set(names)) == len(names)
        assert session.buffer(names[0]) is None
        assert [session.buffer(name) is not None for name in names[-4:]] == [True] * 4

    in_session(many)


def test_two_builds_at_once_are_one_and_a_word() -> None:
    """The second says that it has to wait, and builds nothing."""

    async def twice(session: Session, disk: Memory) -> None:
        await asyncio.gather(session.build(), session.build())
        await until(lambda: session.state.building is not None and session.state.building.stage is None)
        assert disk.builds == 1
        assert session.state.notice == "a build is under way; wait for it"
        assert session.state.building is not None
        assert session.state.building.lines == ("a: built",)

    in_session(twice)


def test_what_is_built_was_saved_before() -> None:
    """A build is of the file; so what was moved is written first, and where that is refused nothing is built."""

    async def build(session: Session, disk: Memory) -> None:
        session.move("eye.distance", 400)
        await until(lambda: session.state.judged)
        disk.content = SCENE + b"# changed elsewhere\n"
        await session.build()
        assert (disk.saved, disk.builds) == ([], 0)
        assert session.state.notice == "not saved: a.toml: was changed while we read it"
        disk.content = SCENE
        await session.build()
        assert (disk.saved, disk.builds) == ([(("eye.distance", 400.0),)], 1)
        assert session.state.moved == ()

    in_session(build)


def test_a_fault_of_the_program_is_said_and_survived(monkeypatch: pytest.MonkeyPatch) -> None:
    """The page goes on, and shows the next room."""

    def broken(*_: object) -> None:
        raise ZeroDivisionError("by nobody")

    async def stumble(session: Session, disk: Memory) -> None:
        with monkeypatch.context() as for_now:
            for_now.setattr("pipeline.live.session.look", broken)
            session.move("eye.distance", 400)
            await until(lambda: session.state.faults)
            assert session.state.faults[0].text == "a fault of the program: ZeroDivisionError: by nobody"
        session.move("eye.distance", 410)
        await until(lambda: session.state.judged)
        assert session.state.faults == ()

    in_session(stumble)
