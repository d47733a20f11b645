"""The page on a socket of this machine."""

from __future__ import annotations

import asyncio
import os
import secrets
import socket
import tempfile
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass

from pipeline.live.guard import Door, Guard
from pipeline.live.session import Disk, Session

TOKEN_BYTES = 18


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Where the page is."""

    door: Door

    @staticmethod
    def at(port: int) -> Site:
        """Return a new site at a port, with a token nobody knows yet."""
        return Site(door=Door(port=port, token=secrets.token_urlsafe(TOKEN_BYTES)))

    @property
    def address(self) -> str:
        """What to open in a browser."""
        return f"http://127.0.0.1:{self.door.port}/{self.door.token}/"


def serve(disk: Disk, taken: socket.socket, site: Site, ready: Callable[[], None]) -> None:
    """Serve the page until interrupted.

    Parameters
    ----------
    disk
        The scene.
    taken
        A listening socket.
    site
        The address that leads to it.
    ready
        Called once requests are answered.
    """
    with tempfile.TemporaryDirectory(prefix="foreshorten-live-") as own:
        os.environ["NICEGUI_STORAGE_PATH"] = own  # it would leave a folder where one happens to stand
        asyncio.run(_serve(disk, taken, site, ready))


async def _serve(disk: Disk, taken: socket.socket, site: Site, ready: Callable[[], None]) -> None:
    import uvicorn
    from fastapi import FastAPI
    from nicegui import ui

    from pipeline.live.page import lay_out

    session = Session(disk)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        tasks = [asyncio.create_task(session.watch()), asyncio.create_task(session.follow())]
        ready()
        yield
        for task in tasks:
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task

    app = FastAPI(lifespan=lifespan, docs_url=None, redoc_url=None, openapi_url=None)
    lay_out(session)
    ui.run_with(
        app, mount_path=f"/{site.door.token}", title="Foreshorten", language="en-US", dark=False, tailwind=False,
        show_welcome_message=False, binding_refresh_interval=None,
    )  # fmt: skip
    config = uvicorn.Config(
        Guard(app, site.door), log_level="error", access_log=False, server_header=False, timeout_graceful_shutdown=1
    )
    await uvicorn.Server(config).serve(sockets=[taken])
