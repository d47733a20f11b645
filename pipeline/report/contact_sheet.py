"""The builds of a sweep side by side on one page: what the eye sees, the figures, and the checks of each."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

from PIL import Image

from pipeline.checks.model import Status
from pipeline.report.page import environment

WIDE = 480
"""Pixels of a picture on the sheet."""
MOST_INSIDE = 500
"""Builds whose pictures are put into the page itself, some ten kilobytes each; of more, they stay in the folders."""
STATUSES: tuple[Status, ...] = ("pass", "warn", "fail")


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One build of a sweep.

    Attributes
    ----------
    settings
        Key and value of what was swept.
    folder
        Where it was written, relative to the page; nothing where it was not.
    figures
        Name and value.
    counts
        How many checks passed, warned and failed.
    told
        Every check that did not pass: its status, its part and what it says.
    errors
        Why it could not be built.
    picture
        PNG, small, or nothing.
    """

    settings: tuple[tuple[str, str], ...]
    folder: str = ""
    figures: tuple[tuple[str, str], ...] = ()
    counts: tuple[tuple[Status, int], ...] = ()
    told: tuple[tuple[Status, str, str], ...] = ()
    errors: tuple[str, ...] = ()
    picture: bytes = b""


def card(settings: tuple[tuple[str, str], ...], folder: str, manifest: dict[str, Any], picture: bytes) -> Card:
    """Return the card of a build."""
    checks = manifest["checks"]
    return Card(
        settings=settings,
        folder=folder,
        figures=tuple(_figures(manifest)),
        counts=tuple((status, sum(check["status"] == status for check in checks)) for status in STATUSES),
        told=tuple(
            (check["status"], check["part"] or "scene", check["message"])
            for check in sorted(checks, key=lambda check: -STATUSES.index(check["status"]))
            if check["status"] != "pass"
        ),
        picture=smaller(picture),
    )


def _figures(manifest: dict[str, Any]) -> list[tuple[str, str]]:
    relief, forgives = manifest["relief"], manifest["forgives"]
    made = [part["made_as"] for part in manifest["parts"]]
    vanishing, least = relief["vanishing_depth"], forgives["least_in_plane"]
    return [
        ("Eye distance", f"{relief['eye_distance']:.1f} mm"),
        ("Eye height", f"{relief['eye'][2]:.1f} mm"),
        ("Apparent depth", f"{relief['apparent_depth']:.1f} mm"),
        ("Built depth", f"{relief['built_depth']:.1f} mm"),
        ("Back scale", f"{relief['back_scale']:.4f}"),
        ("Vanishing depth", "none" if vanishing is None else f"{vanishing:.1f} mm"),
        ("Eye may move", "freely" if least is None else f"{least:.1f} mm"),
        ("Parts", f"{len(made) - made.count('print')} panels, {made.count('print')} prints"),
    ]


def smaller(picture: bytes) -> bytes:
    """Return a PNG picture not wider than ``WIDE`` pixels, in a palette, to keep the page small."""
    image = Image.open(io.BytesIO(picture)).convert("RGB")
    if image.width > WIDE:
        image = image.resize((WIDE, round(image.height * WIDE / image.width)), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    image.quantize(128, dither=Image.Dither.NONE).save(out, format="PNG", optimize=True)
    return out.getvalue()


def contact_sheet(title: str, command: str, cards: list[Card]) -> bytes:
    """Return the page as the bytes of a self-contained HTML file; ``command`` is what was asked for."""
    return (
        environment()
        .get_template("contact.html")
        .render(title=title, command=command, cards=cards, inside=len(cards) <= MOST_INSIDE)
        .encode()
    )
