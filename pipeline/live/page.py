"""The page itself: the two views, and beside them what the session knows."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from fastapi import Response
from nicegui import app, ui
from nicegui.element import Element
from nicegui.elements.scene import Scene as _  # noqa: F401  registers the module room_view.js imports three.js from
from nicegui.events import GenericEventArguments

from pipeline.live import showing
from pipeline.live.knobs import BY_KEY
from pipeline.live.session import Session
from pipeline.live.state import State

HERE = Path(__file__).parent
PAUSE = 0.08
"""Seconds between two looks at the session: well below what one notices."""


class RoomView(Element, component="room_view.js"):  # type: ignore[misc, call-arg]
    """The box to be walked round, the view from the eye, and the knobs."""


def lay_out(session: Session) -> None:
    """Make the page and the address its buffers are fetched from."""

    @app.get("/buffers/{name}")  # type: ignore[untyped-decorator]
    def buffer(name: str) -> Response:
        found = session.buffer(name)
        if found is None:
            return Response(status_code=404)
        return Response(found.content, media_type="application/octet-stream", headers={"cache-control": "no-store"})

    @ui.page("/", title=f"{Path(session.state.name).name}, live")  # type: ignore[untyped-decorator]
    def page() -> None:
        _page(session)


def _page(session: Session) -> None:
    ui.add_css((HERE / "page.css").read_text(encoding="utf-8"))
    with ui.element("header"):
        top = ui.html("", sanitize=False)
    with ui.element("div"):
        faults = ui.html("", sanitize=False).props("role=alert aria-live=assertive").classes("faults")
        view = RoomView()
        with ui.element("div").classes("deeds"):
            save = ui.button("Save to the file", on_click=session.save, color=None).classes("deed")
            back = ui.button("Back to the file's numbers", on_click=session.take_back, color=None).classes("deed")
            build = ui.button("Build", on_click=session.build, color=None).classes("deed")
            with ui.element("div").classes("said").props("role=status aria-live=polite"):
                bar = ui.html("", sanitize=False)
        with ui.element("div").classes("known"):
            figures = ui.html("", sanitize=False, tag="section")
            checks = ui.html("", sanitize=False, tag="section")
        outlines = ui.html("", sanitize=False, tag="section").classes("outlines")

    def moved(event: GenericEventArguments) -> None:
        key, value = event.args.get("key"), event.args.get("value")
        if event.args.get("epoch") != session.state.epoch:
            return  # it was turned before the file took over, which the page now hears of
        if key in BY_KEY and isinstance(value, int | float):
            session.move(key, float(value))

    view.on("moved", moved)
    shown: dict[str, Any] = {}

    def put(name: str, content: Any, show: Any) -> None:
        if shown.get(name) != content:
            shown[name] = content
            show(content)

    def set_props(content: dict[str, Any]) -> None:
        view._props["room"] = content
        view.update()

    def refresh() -> None:
        state = session.state
        if shown.get("version") == session.version:
            return
        shown["version"] = session.version
        put("top", showing.top(state), top.set_content)
        put("faults", showing.faults(state), faults.set_content)
        put("room", room(state), set_props)
        put("figures", showing.figures(state), figures.set_content)
        put("checks", showing.checks(state), checks.set_content)
        put("outlines", showing.outlines(state), outlines.set_content)
        put("bar", showing.progress(state), bar.set_content)
        put("build", showing.build_label(state), build.set_text)
        put("can save", bool(state.moved) and not state.gone, save.set_enabled)
        put("can go back", bool(state.moved), back.set_enabled)
        put("can build", showing.can_build(state), build.set_enabled)

    refresh()
    ui.timer(PAUSE, refresh)


def room(state: State) -> dict[str, Any]:
    """Return what the views are drawn from, as JSON."""
    if state.glance is None:
        return {}
    moved = dict(state.moved)
    stands = {**dict(state.file), **moved}
    knobs = [
        {
            **asdict(knob),
            "value": stands.get(knob.key, knob.value),
            "label": BY_KEY[knob.key].label,
            "unit": BY_KEY[knob.key].unit,
            "step": BY_KEY[knob.key].step,
            "moved": knob.key in moved,
        }
        for knob in state.glance.knobs
    ]
    shapes = state.shapes
    return {
        "epoch": state.epoch,
        "knobs": knobs,
        "now": asdict(state.glance.stand),
        "base": None if shapes is None else asdict(shapes.stand),
        "buffers": [] if shapes is None else [buffer.name for buffer in shapes.buffers],
    }
