"""``foreshorten live``: a local page on which the room re-shapes while the eye is dragged."""

from __future__ import annotations

import argparse
import importlib.util
import socket
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands import scene_files
from pipeline.commands.model import Command, Exit, InputError
from pipeline.commands.terminal import Terminal
from pipeline.folder import WORK

if TYPE_CHECKING:
    from pipeline.live.knobs import Values
    from pipeline.live.session import Built, Read

LOOPBACK = "127.0.0.1"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take a scene, where to build it to, and where the page is to be found."""
    parser.add_argument("scene", metavar="SCENE", type=Path, help="scene file (.toml)")
    parser.add_argument(
        "--out", metavar="FOLDER", type=Path, default=Path("exports"), help="where it builds to (default: exports)"
    )
    parser.add_argument(
        "--port", metavar="N", type=port_number, default=0, help="port of the page (default: any that is free)"
    )
    parser.add_argument("--no-browser", action="store_true", help="open no browser, only say the address")
    parser.add_argument(
        "--allow-outside", action="store_true", help="read mesh files outside the scene file's folder too"
    )
    parser.add_argument("--quiet", action="store_true", help="write nothing but errors and the address")


def port_number(text: str) -> int:
    """Return a port that anybody may use."""
    if not (text.isascii() and text.isdigit() and 1024 <= int(text[:6]) <= 65535):
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1024 to 65535, as in 8080")
    return int(text)


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Serve the page until Ctrl-C."""
    from pipeline.commands.publishing import recovered

    if importlib.util.find_spec("nicegui") is None:
        raise InputError(
            "the live page needs NiceGUI, which is not installed; in the folder with this program run "
            ".venv/bin/pip install '.[live]'"
        )
    scene = scene_files.scene_files([arguments.scene], arguments.allow_outside)[0]
    scene_files.read_bytes(scene.path)
    recovered(arguments.out)
    with listening(arguments.port) as taken:
        from pipeline.live.serving import Site, serve

        site = Site.at(taken.getsockname()[1])

        def ready() -> None:
            terminal.result(site.address)
            terminal.flush()
            terminal.message("the page is for this machine only; Ctrl-C ends it")
            if not arguments.no_browser:
                import webbrowser

                webbrowser.open(site.address)

        serve(OnDisk(scene, arguments.out), taken, site, ready)
    return Exit.DONE


def listening(port: int) -> socket.socket:
    """Return a socket of this machine's own that listens at a port, or at any where it is 0.

    Raises
    ------
    InputError
        If the port is taken.
    """
    taken = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        taken.bind((LOOPBACK, port))
        taken.listen(64)
    except OSError as error:
        taken.close()
        raise InputError(
            f"--port {port}: {(error.strerror or str(error)).lower()}; name another, or leave --port out for a free one"
        ) from None
    return taken


class OnDisk:
    """A scene file on the disk, for the page."""

    def __init__(self, scene: scene_files.SceneFile, out: Path) -> None:
        self.name = str(scene.path)
        self._scene = scene
        self._out = out

    def stamp(self) -> tuple[object, bool]:
        """Return how the scene's files stand, and whether the scene itself is there."""
        from pipeline.commands.watching import state_of

        state = state_of(self._scene)
        return state, state[0][2] >= 0

    def read(self, overrides: tuple[tuple[str, str], ...]) -> Read:
        """Return the scene and the files it names under some settings."""
        from pipeline.commands.mesh_files import read_named
        from pipeline.live.session import Read
        from pipeline.scene.read import placed_error, read_scene

        text = self.text()
        files, problems = read_named(read_scene(text, overrides), self._scene.path.parent, self._scene.allow_outside)
        if problems:
            raise placed_error(text, problems, overrides)
        return Read(text=text, files=files)

    def text(self) -> bytes:
        """Return the scene's text."""
        from pipeline.live.session import RefusedError

        try:
            return scene_files.read_bytes(self._scene.path)
        except InputError as refusal:
            raise RefusedError(str(refusal)) from None

    def save(self, text: bytes, values: Values) -> None:
        """Write values into the file, if it still is what it was."""
        from pipeline.commands.scene_edits import write_values
        from pipeline.live.knobs import BY_KEY
        from pipeline.live.session import RefusedError

        try:
            write_values(self._scene.path, text, {BY_KEY[key].keys: _plain(value) for key, value in values})
        except InputError as refusal:
            raise RefusedError(str(refusal)) from None

    def build(self, begins: Callable[[str], None]) -> Built:
        """Build the file as it stands into its folder."""
        from pipeline.commands.attempts import attempt
        from pipeline.commands.cut_marks import held_against_cut
        from pipeline.commands.publishing import published
        from pipeline.live.session import Built

        made = attempt(self._scene, (), self._out / WORK, begins=begins)
        begins("writing")
        result = held_against_cut(published(made, self._out), self._out)
        if result.build is None or result.folder is None:
            return Built(lines=result.errors, refused=True)
        lines = (*result.build.summary, *result.as_cut_lines, f"  open {result.folder / 'report.html'}")
        return Built(lines=(*lines, *result.errors), refused=False)


def _plain(value: float) -> float:
    """Return a whole number without its ``.0``, as a person writes it."""
    return int(value) if value == int(value) else value


COMMAND = Command(
    name="live",
    summary="open a page on this machine where the room re-shapes while the eye is dragged",
    add_arguments=add_arguments,
    run=run,
)
