"""The page in a real browser: Chromium without a window, its graphics card done in software."""

from __future__ import annotations

import http.client
import os
import signal
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import numpy as np
import pytest

from pipeline.relief.collineation import Relief
from tests.browsers import axe, faults, launched, missing
from tests.live.pages import VIEW, WAIT_MS, drawn, settled, started
from tests.live.test_state import SCENE

if TYPE_CHECKING:
    from playwright.sync_api import Page

if os.environ.get("CI"):
    assert missing("nicegui") == "", f"{missing('nicegui')}: in CI the live page is never left untested"
pytestmark = pytest.mark.skipif(missing("nicegui") != "", reason=missing("nicegui"))


@dataclass(frozen=True)
class Live:
    """A running ``foreshorten live``."""

    scene: Path
    out: Path
    address: str

    @property
    def port(self) -> int:
        return urlsplit(self.address).port or 0

    @property
    def token(self) -> str:
        return urlsplit(self.address).path.strip("/")


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Live]:
    """One page for all tests of this file, which find the scene as they leave it."""
    folder = tmp_path_factory.mktemp("live")
    (folder / "room.toml").write_bytes(SCENE)
    process = started(["room.toml", "--out", "made"], folder)
    assert process.stdout is not None
    address = process.stdout.readline().strip()
    assert address.startswith("http://127.0.0.1:"), process.communicate(timeout=30)
    yield Live(scene=folder / "room.toml", out=folder / "made", address=address)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130, said
    assert "Traceback" not in said
    assert {path.name for path in folder.iterdir()} <= {"room.toml", "made"}, "it leaves nothing of its own"


@pytest.fixture(scope="module")
def opened(live: Live) -> Iterator[Page]:
    """The page, ready; whatever it asks for from elsewhere, and whatever goes wrong in it, is a failure."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = launched(player.chromium)
        page = browser.new_page(viewport={"width": 1200, "height": 900})
        page.set_default_timeout(WAIT_MS)
        wrong: list[str] = []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("request", lambda asked: None if live.address in asked.url else wrong.append(asked.url))
        page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
        page.goto(live.address)
        drawn(page)
        yield page
        browser.close()
        assert [one for one in wrong if not one.startswith(("data:", "blob:"))] == []


def on_the_card(page: Page) -> np.ndarray[Any, Any]:
    """Return the matrix the card was last given, three.js keeping columns."""
    frames = page.evaluate(f"(() => {{ const v = {VIEW}; const n = v.frames.length; v.draw(); return n; }})()")
    page.wait_for_function(f"{VIEW}.frames.length > {frames}")
    elements = page.evaluate(f"Array.from({VIEW}.shared.relief.value.elements)")
    return np.array(elements).reshape(4, 4).T


def relief(page: Page, **changed: float) -> Relief:
    """Return the relief of the file with some values changed, its built depth as the page says it."""
    value = {"distance": 420.0, "height": 78.0, "right": 0.0, "depth": 12.0, "scale": 48.0, **changed}
    return Relief(
        eye=(value["right"], -value["distance"], value["height"]),
        apron=6.0,
        apparent_depth=value["depth"] * 1000 / value["scale"],
        built_depth=page.evaluate(f"{VIEW}.now.built"),
    )


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def shown(page: Page, text: str) -> None:
    page.wait_for_function("text => document.body.innerText.includes(text)", arg=text)


def back_to_the_file(page: Page, live: Live) -> None:
    live.scene.write_bytes(SCENE)
    page.wait_for_function(f"{VIEW}.knobs.every(knob => !knob.moved) && {VIEW}.values['eye.distance'] === 420")
    settled(page)


def test_the_matrix_on_the_card_is_the_relief(opened: Page) -> None:
    """What shapes the room in the browser is what shapes it in a build, at every knob."""
    assert on_the_card(opened) == pytest.approx(relief(opened).built_from_imagined, abs=1e-12)
    for knob, value, changed in (
        ("eye.distance", 300, {"distance": 300.0}),
        ("space.depth", 9, {"distance": 300.0, "depth": 9.0}),
        ("space.scale", 40, {"distance": 300.0, "depth": 9.0, "scale": 40.0}),
        ("eye.right", -12.5, {"distance": 300.0, "depth": 9.0, "scale": 40.0, "right": -12.5}),
    ):
        field = opened.locator(f".knob:has(input[data-key='{knob}']) input[type=number]")
        field.fill(str(value))
        field.press("Enter")
        assert on_the_card(opened) == pytest.approx(relief(opened, **changed).built_from_imagined, abs=1e-12)
    press(opened, "Back to the file's numbers")
    opened.wait_for_function(f"{VIEW}.values['eye.distance'] === 420")
    settled(opened)
    assert on_the_card(opened) == pytest.approx(relief(opened).built_from_imagined, abs=1e-12)


def test_figures_and_outlines_follow_the_keyboard(opened: Page, live: Live) -> None:
    """An arrow key at a knob moves it one step; figures, outlines and checks come after, as a build has them."""
    before = opened.locator(".panels").inner_html()
    opened.locator("#knob-eye\\.distance").focus()
    opened.keyboard.press("ArrowLeft")
    shown(opened, "419 mm before")
    opened.wait_for_function("before => document.querySelector('.panels').innerHTML !== before", arg=before)
    settled(opened)
    assert f"{relief(opened, distance=419.0).back_scale:.4f}" in opened.locator("dl").inner_text()
    press(opened, "Back to the file's numbers")
    shown(opened, "420 mm before")
    settled(opened)
    assert opened.locator(".panels").inner_html() == before


def test_the_eye_is_dragged_in_the_picture(opened: Page) -> None:
    """It goes where the pointer goes, and the matrix with it."""
    at = opened.evaluate(
        f"""(() => {{ const v = {VIEW}, r = v.$refs.bench.getBoundingClientRect();
            const e = v.ball.position.clone().project(v.walker);
            return [r.left + (e.x + 1) / 2 * r.width, r.top + (1 - e.y) / 2 * r.height]; }})()"""
    )
    still = on_the_card(opened)
    opened.mouse.move(*at)
    opened.mouse.down()
    opened.mouse.move(at[0] + 20, at[1] - 4, steps=4)
    opened.mouse.up()
    values = opened.evaluate(f"({{...{VIEW}.values}})")
    assert values["eye.distance"] < 420
    assert not np.allclose(on_the_card(opened), still, atol=1e-9)
    names = {key.split(".")[1]: value for key, value in values.items()}
    assert on_the_card(opened) == pytest.approx(relief(opened, **names).built_from_imagined, abs=1e-12)
    shown(opened, f"{values['eye.distance']:.4g} mm before")
    press(opened, "Back to the file's numbers")
    opened.wait_for_function(f"{VIEW}.values['eye.distance'] === 420")


def test_walking_round_and_stepping_aside_change_the_picture_and_no_number(opened: Page, live: Live) -> None:
    """Both only move who looks."""
    settled(opened)
    pictures = [opened.locator(".stage").screenshot()]
    opened.locator(".pane[tabindex]").focus()
    opened.keyboard.press("ArrowRight")
    on_the_card(opened)
    pictures.append(opened.locator(".stage").screenshot())
    aside = opened.get_by_label("Step aside, mm")
    aside.fill("60")
    aside.press("Enter")
    shown(opened, "60 mm to the right of the eye")
    on_the_card(opened)
    pictures.append(opened.locator(".stage").screenshot())
    assert len(set(pictures)) == 3
    assert on_the_card(opened) == pytest.approx(relief(opened).built_from_imagined, abs=1e-12)
    aside.fill("0")
    aside.press("Enter")


def test_a_pane_is_drawn_only_when_what_it_shows_changes(opened: Page) -> None:
    """Walking round asks for the box alone, stepping aside for the view alone, a knob for both."""
    asked = """([deed, view]) => { const v = eval(view); v.wanted = 0; eval(deed); return v.wanted; }"""
    for deed, panes in (
        ("v.walk({ key: 'ArrowRight', preventDefault() {} })", 1),
        ("v.redrawLook()", 2),
        ("v.turn(v.knobs.find(knob => knob.key === 'eye.right'), 1)", 3),
    ):
        assert opened.evaluate(asked, [deed, VIEW]) == panes
    due = """([wanted, coarse, anew, gripped, view]) => {
        const v = eval(view), before = [v.coarse, v.gripped], found = [];
        for (let n = 0; n < 4; n += 1) {
            [v.wanted, v.coarse, v.gripped] = [wanted, coarse, gripped];
            found.push(v.due(anew), v.wanted);
        }
        [v.coarse, v.gripped] = before;
        return found.sort();
    }"""
    for wanted, coarse, anew, gripped, drawn_panes in (
        (1, 0, False, False, [1, 1, 1, 1]),
        (3, 0, False, False, [3, 3, 3, 3]),
        (1, 0, True, False, [3, 3, 3, 3]),
        (3, 4, False, False, [2, 2, 3, 3]),
        (3, 4, False, True, [1, 1, 3, 3]),
        (1, 4, False, False, [1, 1, 1, 1]),
        (3, 5, False, True, [1, 1, 3, 3]),
        (3, 3, False, False, [3, 3, 3, 3]),
    ):
        assert opened.evaluate(due, [wanted, coarse, anew, gripped, VIEW]) == [0, 0, 0, 0, *drawn_panes]
    assert opened.evaluate(f"{VIEW}.renderer.getContext().getContextAttributes().preserveDrawingBuffer")
    press(opened, "Back to the file's numbers")
    opened.wait_for_function(f"{VIEW}.values['eye.right'] === 0")
    settled(opened)


def test_a_slow_machine_is_not_asked_twice(opened: Page) -> None:
    """Frames 100 ms apart draw fewer and fewer pixels, then all of them once at rest, and never twice as many.

    The next move begins one step finer than the last one ended. Frames 10 ms apart are drawn whole, at rest finer.
    """
    run = """([view, moves]) => {
        const v = eval(view), names = ["draw", "coarse", "known", "moved", "pace", "painted"];
        const before = names.map((name) => v[name]);
        const real = [window.setTimeout, window.clearTimeout, performance.now], due = [], ratios = [];
        let now = 10000;
        window.setTimeout = (deed) => { due.push(deed); return 0; };
        window.clearTimeout = () => { due.length = 0; };
        performance.now = () => now;
        v.draw = () => { v.ease(); ratios.push(v.renderer.getPixelRatio() / Math.min(devicePixelRatio, 2)); };
        v.coarse = 0;
        v.known = v.moved = v.pace = v.painted = undefined;
        const found = moves.map(([frames, apart]) => {
            now += 10000;
            for (let n = 0; n < frames; n += 1) { v.draw(); now += apart; }
            for (let n = 0; n < 5 && due.length; n += 1) { now += 350; due.shift()(); }
            return ratios.splice(0);
        });
        [window.setTimeout, window.clearTimeout, performance.now] = real;
        names.forEach((name, number) => { v[name] = before[number]; });
        v.draw();
        return found;
    }"""
    slow, again, told = opened.evaluate(run, [VIEW, [[6, 100], [3, 100], [1, 100]]])
    assert slow == [1, 0.6, 0.4, 0.28, 0.28, 0.28, 1]
    assert again == [1, 0.4, 0.28, 1]
    assert told == [1, 1]
    (slowish,) = opened.evaluate(run, [VIEW, [[8, 40]]])
    assert slowish[0] == 1
    assert {0.7, 0.6} <= set(slowish), "a little too slow goes one step after the other"
    quick, once = opened.evaluate(run, [VIEW, [[4, 10], [1, 10]]])
    assert quick == [1, 1, 1, 1, 2]
    assert once == [1, 2]


@pytest.mark.parametrize("width", [1200, 390])
def test_assistive_tools_find_no_fault(opened: Page, width: int) -> None:
    """All of axe-core's rules, on a screen and on a telephone, and nothing sticks out to the side."""
    opened.set_viewport_size({"width": width, "height": 900})
    assert faults(opened, axe()) == []
    assert opened.evaluate("document.documentElement.scrollWidth") <= width
    opened.set_viewport_size({"width": 1200, "height": 900})


def test_saving_changes_one_number_and_leaves_the_rest(opened: Page, live: Live) -> None:
    """Comments and order are the file's own; loaded again, the page has the new number."""
    field = opened.locator(".knob:has(input[data-key='eye.distance']) input[type=number]")
    field.fill("400")
    field.press("Enter")
    shown(opened, "400 mm before")
    press(opened, "Save to the file")
    shown(opened, "saved to room.toml: eye.distance = 400")
    assert live.scene.read_bytes() == SCENE.replace(b"distance = 420 # mm", b"distance = 400 # mm")
    opened.reload()
    drawn(opened)
    assert on_the_card(opened) == pytest.approx(relief(opened, distance=400.0).built_from_imagined, abs=1e-12)
    back_to_the_file(opened, live)


def test_an_error_is_shown_at_its_line_and_goes_with_its_repair(opened: Page, live: Live) -> None:
    """The last good picture stays meanwhile."""
    frames = opened.evaluate(f"{VIEW}.base.eye")
    live.scene.write_bytes(SCENE.replace(b"height = 78", b"height = -1"))
    line = SCENE.splitlines().index(b"height = 78") + 1
    shown(opened, f"room.toml:{line}:1: eye.height:")
    assert opened.locator(".faults pre").inner_text().splitlines() == ["height = -1", "^"]
    assert opened.evaluate(f"{VIEW}.base.eye") == frames
    assert opened.get_by_role("button", name="Build", exact=True).is_disabled()
    live.scene.write_bytes(SCENE.replace(b"height = 78", b"height = 70"))
    shown(opened, "70 mm up")
    assert opened.locator(".faults").inner_text() == ""
    back_to_the_file(opened, live)


def test_a_scene_that_goes_away_is_said_and_waited_for(opened: Page, live: Live) -> None:
    """What is shown stays."""
    live.scene.unlink()
    shown(opened, "The file is gone")
    assert opened.locator(".panels li").count() > 0
    live.scene.write_bytes(SCENE)
    opened.wait_for_function("!document.body.innerText.includes('The file is gone')")
    settled(opened)


def test_a_build_is_that_of_the_shell_and_only_one_at_a_time(opened: Page, live: Live) -> None:
    """The button is out of reach while one runs; what is left is a whole export folder."""
    from pipeline.build import build_scene

    press(opened, "Build")
    opened.wait_for_function("document.querySelector('progress, .said .done')")
    if opened.locator("progress").count():
        assert opened.get_by_role("button", name="Build", exact=True).is_disabled()
    opened.wait_for_selector(".said .done")
    files = build_scene(SCENE, "room").files
    folder = live.out / "room"
    made = {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert made == files


def asked(live: Live, path: str, **headers: str) -> int:
    connection = http.client.HTTPConnection("127.0.0.1", live.port, timeout=30)
    connection.request("GET", path, headers=headers)
    status = connection.getresponse().status
    connection.close()
    return status


UPGRADE = {
    "Connection": "Upgrade",
    "Upgrade": "websocket",
    "Sec-WebSocket-Version": "13",
    "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",  # RFC 6455, section 1.3
}


def test_nobody_else_gets_in(live: Live) -> None:
    """Foreign hosts and origins, and whoever has no token, by HTTP and by WebSocket; the page's own socket opens."""
    home, own = f"/{live.token}/", f"http://127.0.0.1:{live.port}"
    socket = f"{home}_nicegui_ws/socket.io/?EIO=4&transport=websocket&client_id=x"
    assert asked(live, home) == 200
    assert asked(live, home, Host="example.org") == 403
    assert asked(live, home, Origin="http://example.org") == 403
    assert asked(live, "/") == 403
    assert asked(live, "/buffers/x") == 403
    assert asked(live, f"{home}buffers/x") == 404
    assert asked(live, socket, Origin=own, **UPGRADE) == 101
    assert asked(live, socket, Origin="http://example.org", **UPGRADE) == 403
    assert asked(live, socket, Origin=own, Host="example.org", **UPGRADE) == 403
    assert asked(live, socket, **UPGRADE) == 403
    assert asked(live, socket.replace(live.token, "x"), Origin=own, **UPGRADE) == 403


@pytest.mark.parametrize(
    "path", ["room.toml", "../room.toml", "%2e%2e/room.toml", "..%2froom.toml", "_nicegui/../../room.toml"]
)
def test_no_file_but_the_pages_own_is_served(live: Live, path: str) -> None:
    """Whatever way is tried."""
    assert asked(live, f"/{live.token}/{path}") in (403, 404)


def test_a_busy_port_is_refused(live: Live, tmp_path: Path) -> None:
    """With what to do."""
    (tmp_path / "a.toml").write_bytes(SCENE)
    process = started(["a.toml", "--port", str(live.port)], tmp_path)
    out, said = process.communicate(timeout=120)
    assert (process.returncode, out) == (2, "")
    assert f"--port {live.port}: address already in use" in said
    assert "name another" in said
