"""What the eye forgives in plain words: where to stand, how to look, how to photograph."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.report.forgiving import (
    ACUITY,
    ARC_MINUTE,
    CAMERA_FOCAL,
    NAMED,
    STEREO_ARCSEC,
    Forgiveness,
)
from pipeline.sight import lens, stereo

TALL, SHORT = 1630.0, 1505.0
"""mm; eye heights of standing British men and women, 50th percentile (published ergonomics table)."""
NARROW = 2.0
"""mm; a hole much smaller than a pupil by day makes the picture dim."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ForgivingRow:
    """A line of the table: which way, how far until the parallax, and until a crease, shows."""

    way: str
    parallax: str
    crease: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewerRow:
    """A line of the table of viewers: the eye's height, what it sees of this build, what one made for it forgives."""

    height: str
    parallax: str
    sideways: str
    upright: str
    along: str
    crease: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ForgivingWords:
    """Everything the section of the page says."""

    lead: str
    rows: tuple[ForgivingRow, ...]
    creases: bool
    advice: tuple[tuple[str, str], ...]
    viewers: tuple[ViewerRow, ...]
    map: bytes


def forgiving_words(found: Forgiveness, map_svg: bytes) -> ForgivingWords:
    """Return the section's content."""
    return ForgivingWords(
        lead=_lead(found),
        rows=tuple(
            ForgivingRow(way=name, parallax=_far(found.reach[name]), crease=_far(found.crease[name])) for name in NAMED
        ),
        creases=found.apron > 0,
        advice=tuple(_advice(found)),
        viewers=tuple(
            ViewerRow(
                height=f"{viewer.height:.1f} mm",
                parallax=f"{viewer.parallax_rad / ARC_MINUTE:.1f}\N{PRIME}",
                sideways=_far(min(viewer.reach["left"], viewer.reach["right"])),
                upright=_far(min(viewer.reach["up"], viewer.reach["down"])),
                along=_far(min(viewer.reach["nearer"], viewer.reach["farther"])),
                crease=_far(min(viewer.crease.values())),
            )
            for viewer in found.viewers
        ),
        map=map_svg,
    )


def forgiving_line(found: Forgiveness) -> str:
    """Return one line for the terminal."""
    if math.isinf(found.least):
        return "the eye may move freely: the room is built as deep as it looks"
    along = min(found.reach["nearer"], found.reach["farther"])
    return (
        f"the eye may move {found.least:.1f} mm sideways or up, {_far(along)} nearer or farther"
        f" ({found.limit_rad / ARC_MINUTE:g} minutes of arc)"
    )


def _lead(found: Forgiveness) -> str:
    arc = f"{found.limit_rad / ARC_MINUTE:g} minutes of arc"
    if math.isinf(found.least):
        return "The room is built as deep as it looks, so it is right from everywhere."
    width, height = found.eye_box
    return (
        f"The picture is right from one point. {found.least:.1f} mm beside it something the eye sees lies {arc} from"
        f" where the imagined room would have it. The eye box of {width:g} by {height:g} mm promises less: that from"
        " anywhere in it nothing bare is to be seen. It does not promise that the room still looks right."
    )


def _advice(found: Forgiveness) -> list[tuple[str, str]]:
    if math.isinf(found.least):
        return [("Anyhow", "Look with both eyes, from wherever you like.")]
    distance, farthest = found.sharp
    arcsec = math.degrees(found.disparity_rad) * 3600
    out = [
        (
            "One eye",
            f"Two eyes {stereo.PUPILS:g} mm apart see the back wall {arcsec:.0f}\N{DOUBLE PRIME} off the depth it is"
            f" to have, and {STEREO_ARCSEC:g}\N{DOUBLE PRIME} is noticed. Close one eye. For two, the same box and"
            f" the same apparent depth would want an eye {found.one_enough / 1000:.1f} m away.",
        ),
        (
            "A peephole",
            f"A hole of {_down(found.peephole):.1f} mm at the eye point lets through only what is right. To see all of"
            f" the opening at once the pupil must come within {_down(found.behind):.1f} mm behind it; farther back the"
            " eye has to move about." + (" So small a hole makes the picture dim." if found.peephole < NARROW else ""),
        ),
        ("A camera", _camera(found, distance, farthest)),
        (
            "Viewers' heights",
            f"Standing women and men differ by {TALL - SHORT:g} mm in the middle of their eye heights, {_times(found)}"
            " times what is forgiven: bring the peephole or the box to the viewer's eye, not the viewer to the box.",
        ),
    ]
    if found.apron > 0:
        least = min(found.crease.values())
        out.append(
            (
                "The apron",
                f"Where it ends every surface has a crease, hidden from the eye point. {_far(least)} beside it one"
                f" stands {ACUITY / ARC_MINUTE:g}\N{PRIME} off the straight, which good eyes see.",
            )
        )
    return out


def _camera(found: Forgiveness, distance: float, farthest: float) -> str:
    along = min(found.reach["nearer"], found.reach["farther"])
    said = (
        f"The middle of its lens (the entrance pupil) {distance:.1f} mm before the opening, within {_far(along)}, and"
        f" on the eye point within {found.least:.1f} mm. "
    )
    if found.stop is None:
        return said + "A wide lens is needed to focus so near."
    return said + (
        f"To be sharp from {distance:.0f} to {farthest:.0f} mm, focus at {lens.focus(distance, farthest):.0f} mm; a"
        f" {CAMERA_FOCAL:g} mm lens on 24 \N{MULTIPLICATION SIGN} 36 mm then wants f/{math.ceil(found.stop)} or more, a"
        " shorter one less."
    )


def _times(found: Forgiveness) -> str:
    return f"{(TALL - SHORT) / min(found.reach['up'], found.reach['down']):.0f}"


def _down(value: float) -> float:
    """Return a length rounded down to a tenth: a hole is better too small."""
    return math.floor(value * 10 + 1e-9) / 10


def _far(value: float) -> str:
    return f"{value:.1f} mm" if math.isfinite(value) else "any distance"
