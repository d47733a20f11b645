"""The report as one HTML file: nothing loaded from elsewhere, and no script but that of the 3D view."""

from __future__ import annotations

import base64
from functools import cache
from importlib import resources
from urllib.parse import quote

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from pipeline.checks.model import Status
from pipeline.report.cautions import DEFERRING
from pipeline.report.contents import contents_of
from pipeline.report.model import ReportData
from pipeline.room.figuring import STOCK_SCALES

MARKS: dict[Status, tuple[str, str]] = {
    "pass": ("\N{CHECK MARK}", "pass"),
    "warn": ("!", "warning"),
    "fail": ("\N{MULTIPLICATION X}", "FAIL"),
}
"""Sign and word of each status; colour only repeats them."""

STOPS = 20
"""Where the line of the wipe may stand, beside the left edge: every twentieth of the picture."""


def render_page(report: ReportData) -> bytes:
    """Return the page as the bytes of a self-contained HTML file."""
    told = [finding.status for check in report.checks for finding in check.findings]
    counts = {status: told.count(status) for status in MARKS}
    page = environment().get_template("report.html")
    return page.render(
        report=report,
        counts=counts,
        contents=contents_of(report),
        plan_svg=_inline(report.plan),
        section_svg=_inline(report.section),
        forgives_map=_inline(report.forgives.map),
        wiring_svg=_inline(report.wiring.picture) if report.wiring is not None else "",
        air_strip=_inline(report.air.strip) if report.air is not None else "",
    ).encode()


@cache
def environment() -> Environment:
    """Return the templates of all pages, with what they need."""
    folder = resources.files("pipeline.report") / "templates"
    sources = {file.name: file.read_text("utf-8") for file in folder.iterdir() if file.name.endswith((".html", ".css"))}
    environment = Environment(
        loader=DictLoader(sources), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.globals |= {
        "marks": MARKS,
        "stock_scales": STOCK_SCALES,
        "deferring": DEFERRING,
        "stops": STOPS,
        "viewer": viewer(),
    }
    environment.filters |= {
        "data_uri": _data_uri, "link": quote, "measure": _measure, "span": _span, "ours": Markup, "value": _value,
        "quoted": _quoted, "drawing": _inline,
    }  # fmt: skip
    return environment


def viewer() -> Markup:
    """Return the script that lets the built box be walked round: the only one of the page."""
    return Markup((resources.files("pipeline.report") / "model_view.js").read_text("utf-8"))


def _inline(svg: bytes) -> Markup:
    """Return an SVG file as an element of the page; it is ours, and its texts are escaped already."""
    text = svg.decode()
    return Markup(text[text.index("<svg") :])


def _data_uri(png: bytes) -> str:
    return "data:image/png;base64," + base64.b64encode(png).decode()


def _quoted(text: str) -> Markup:
    """Return any text as a string of a style sheet, where nothing but letters and digits stands for itself."""
    plain = "".join(one if one.isascii() and one.isalnum() else f"\\{ord(one):x} " for one in text)
    return Markup(f'"{plain}"')


def _measure(sizes: tuple[float, ...]) -> str:
    return " \N{MULTIPLICATION SIGN} ".join(f"{size:.1f}" for size in sizes)


def _span(ends: tuple[float, float] | None, decimals: int = 1, unit: str = "") -> str:
    """Return a range, one number where both ends read alike, a dash for none."""
    if ends is None:
        return "\N{EN DASH}"
    low, high = (f"{round(end, decimals) + 0.0:.{decimals}f}" for end in ends)
    return f"{low}{unit}" if low == high else f"{low}\N{EN DASH}{high}{unit}"


def _value(number: float | None, unit: str) -> str:
    return "" if number is None else f"{number:.4g} {unit}".strip()
