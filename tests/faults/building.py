"""A bench with one small room on it, and processes that build it: forked with the program loaded, or from nothing."""

from __future__ import annotations

import importlib
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from pipeline.commands.pack import Pack
from tests.faults.looking import BrokenError
from tests.on_disk import Files, files_in

ROOT = Path(__file__).parents[2]

SCENE = """\
format = 1
box = { width = 180, height = 150, depth = 85 }
eye = { distance = 420, height = 78 }
space = { scale = 48, depth = 12.0 }
materials.foam = { thickness = 3.0, process = "knife", sheet = [300, 200] }
"""
EYES = {"far": "420", "near": "400"}
"""Two eyes, mm: every panel and nearly every file is another, so that a mixture shows."""

PATIENCE = 900.0
"""s by the clock, on a machine with much else to do; a build that takes longer hangs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """A folder with a scene and what is built of it.

    Attributes
    ----------
    folder
        Holds ``room.toml``, ``exports`` and ``temporary``, which the program takes for the system's folder of that use.
    versions
        What a build of it is by each eye, made in peace in another folder.
    kept
        What builds by both eyes leave for the next one, put together: with it either takes a tenth of the time.
    """

    folder: Path
    versions: dict[str, Files]
    kept: bytes

    @property
    def out(self) -> Path:
        """Where it builds to."""
        return self.folder / "exports"

    @property
    def room(self) -> Path:
        """The export folder."""
        return self.out / "room"

    @property
    def pack(self) -> Path:
        """What builds leave for the next one."""
        return self.out / ".foreshorten" / "kept" / "room.kept"

    def arguments(self, eye: str, *more: str) -> list[str]:
        """Return the command line of a build."""
        scene = str(self.folder / "room.toml")
        return ["build", scene, "--out", str(self.out), "--quiet", "--set", f"eye.distance={EYES[eye]}", *more]

    def warm(self) -> None:
        """Leave what earlier builds may have left, so that the next one is quick."""
        self.pack.parent.mkdir(parents=True, exist_ok=True)
        self.pack.write_bytes(self.kept)


def bench_at(folder: Path, like: Bench | None = None) -> Bench:
    """Return a bench in a new folder; what its builds are is made in peace first, or taken from one ``like`` it."""
    (folder / "temporary").mkdir(parents=True)
    (folder / "room.toml").write_text(SCENE)
    if like is not None:
        return Bench(folder=folder, versions=like.versions, kept=like.kept)
    versions, kept = {}, []
    peace = Bench(folder=folder, versions={}, kept=b"")
    for eye in EYES:
        code, said = Running.forked(peace, peace.arguments(eye)).ended()
        if (code, said) != (0, ""):
            raise BrokenError(f"the room does not build: {code} {said}")
        versions[eye] = files_in(peace.room)
        kept.append(Pack(peace.pack))
    if versions["far"].keys() != versions["near"].keys() or versions["far"] == versions["near"]:
        raise BrokenError("the versions do not tell a mixture")
    both = Pack(folder / "both.kept")
    for one in kept:
        for name in one._index:
            both.put(bytes.fromhex(name), one.get(bytes.fromhex(name)) or b"")
    both.save()
    return Bench(folder=folder, versions=versions, kept=(folder / "both.kept").rename(peace.pack).read_bytes())


class Running:
    """A process at a command, and what it says on stderr."""

    def __init__(self, process: int, said: Path, marks: int) -> None:
        self.process, self._said, self._marks = process, said, marks
        self.seen = b""
        self._code: int | None = None

    @staticmethod
    def forked(bench: Bench, arguments: list[str], before: Callable[[], None] = lambda: None) -> Running:
        """Return a command run by a copy of this process, in which the program is loaded.

        It marks how far it is: ``k`` at keeping results for the next build, ``p`` at publishing, ``d`` when that is
        done.
        """
        said, (reads, writes) = _fresh(bench), os.pipe()
        process = os.fork()
        if process == 0:
            code = 99
            try:
                os.close(reads)
                _alone(bench, said)
                _marking(writes)
                before()
                from pipeline.cli import main

                code = main(arguments)
            except KeyboardInterrupt:
                code = 98  # it got past the command line
            finally:
                sys.stdout.flush()
                sys.stderr.flush()
                os._exit(code)
        os.close(writes)
        os.set_blocking(reads, False)
        return Running(process, said, reads)

    @staticmethod
    def spawned(bench: Bench, arguments: list[str]) -> Running:
        """Return a command run as a person runs it, in a new interpreter; it marks nothing."""
        said, (reads, writes) = _fresh(bench), os.pipe()
        os.close(writes)
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(bench.folder / "temporary")}
        with said.open("wb") as stream:
            process = subprocess.Popen(
                [sys.executable, "-m", "pipeline", *arguments], stdin=subprocess.DEVNULL, stdout=stream, stderr=stream,
                env=environment, cwd=bench.folder, restore_signals=True,
            )  # fmt: skip
        process.returncode = 0  # it is waited for here, not there
        return Running(process.pid, said, reads)

    def reached(self) -> bytes:
        """Return the marks it has made."""
        with suppress(BlockingIOError):
            self.seen += os.read(self._marks, 100)
        return self.seen

    def spent(self) -> float:
        """Return the processor time it has had, s; 0 where it has ended.

        Source: clock_gettime(3) and CPUCLOCK_SCHED of the Linux kernel, the clock of another process.
        """
        try:
            return time.clock_gettime((~self.process << 3) | 2)
        except OSError:
            return 0.0

    def over(self) -> bool:
        """Return whether it has ended."""
        if self._code is None:
            process, status = os.waitpid(self.process, os.WNOHANG)
            if process:
                self._code = os.waitstatus_to_exitcode(status)
        return self._code is not None

    def send(self, number: signal.Signals) -> None:
        """Send it a signal, unless it has ended."""
        if not self.over():
            os.kill(self.process, number)

    def ended(self) -> tuple[int, str]:
        """Return its exit code, negative for a signal, and what it said on stderr.

        Raises
        ------
        BrokenError
            If it does not end.
        """
        give_up = time.monotonic() + PATIENCE
        while not self.over():
            if time.monotonic() > give_up:
                self.send(signal.SIGKILL)
                raise BrokenError(f"it hangs, after {self.spent():.1f} s of processor time")
            time.sleep(0.002)
        self.reached()
        os.close(self._marks)
        said = self._said.read_text(errors="replace")
        self._said.unlink()
        return self._code or 0, said


_number = 0


def _fresh(bench: Bench) -> Path:
    global _number  # noqa: PLW0603 - a name for each process
    _number += 1
    return bench.folder.with_name(f"{bench.folder.name}-said-{_number}")


def _alone(bench: Bench, said: Path) -> None:
    """Give this process its own streams, folder and handling of Ctrl-C, as a new one has."""
    import tempfile

    stream = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.dup2(stream, 1)
    os.dup2(stream, 2)
    sys.stdout, sys.stderr = os.fdopen(1, "w", closefd=False), os.fdopen(2, "w", closefd=False)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    tempfile.tempdir = str(bench.folder / "temporary")
    os.chdir(bench.folder)


def _marking(writes: int) -> None:
    """Have keeping and publishing marked, and done as ever."""
    from pipeline import folder
    from pipeline.commands import pack, publishing

    save, publish = pack.Pack.save, folder.publish

    def marked_save(self: pack.Pack) -> None:
        os.write(writes, b"k")
        save(self)

    def marked_publish(*given: object) -> None:
        os.write(writes, b"p")
        publish(*given)  # type: ignore[arg-type]
        os.write(writes, b"d")

    pack.Pack.save = marked_save  # type: ignore[method-assign]
    setattr(publishing, "publish", marked_publish)  # noqa: B010 - it is another module's name


def load(place: Path) -> None:
    """Load into this process all that a build loads, so that what is forked from it need not.

    Nothing is built here: what holds threads is not to be forked.
    """
    listed = place / "modules"
    bench = Bench(folder=place / "loading", versions={}, kept=b"")
    (bench.folder / "temporary").mkdir(parents=True)
    (bench.folder / "room.toml").write_text(SCENE)
    code = (
        "import sys; from pathlib import Path; from pipeline.cli import main; code = main(sys.argv[2:]); "
        "Path(sys.argv[1]).write_text('\\n'.join(sys.modules)); sys.exit(code)"
    )
    subprocess.run(
        [sys.executable, "-c", code, str(listed), *bench.arguments("far")], check=True, cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    for name in listed.read_text().splitlines():
        with suppress(ImportError):
            importlib.import_module(name)


def time_of_children() -> float:
    """Return the processor time of all processes that were started and have ended, s."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
