"""What the page and the manifest say of the air: how far to lighten each depth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pipeline.checks.evidence import Evidence
from pipeline.exports.haze_strip import APART, WIDE, Block, blocks_of
from pipeline.report import draughting as pen
from pipeline.room.airing import Haze, haze_of
from pipeline.scene.air import AirTable
from pipeline.sight.air import mixed

AIR = "pictures/air.svg"
MARGIN = 8.0
"""mm of white round the strip."""
SOURCES = {0.05: " (CIE e-ILV 845-31-020)", 0.02: " (Koschmieder)"}
"""Who defines visibility by a threshold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirRow:
    """A line of the table: how deep it seems and is, what is left of contrast, how much haze, and each paint there."""

    imagined: str
    built: str
    contrast: str
    share: str
    paints: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AirWords:
    """Everything the section of the page says."""

    lead: str
    paints: tuple[str, ...]
    rows: tuple[AirRow, ...]
    strip: bytes


def haze_of_scene(evidence: Evidence) -> tuple[AirTable, Haze] | None:
    """Return the scene's air and its haze; nothing where it has none."""
    air = evidence.scene.air
    return None if air is None else (air, haze_of(air, evidence.room.hall, evidence.room.relief))


def air_words(evidence: Evidence, strip: bytes) -> AirWords | None:
    """Return the section's content; ``strip`` is the picture's file."""
    found = haze_of_scene(evidence)
    if found is None:
        return None
    air, haze = found
    return AirWords(
        lead=_lead(air, haze),
        paints=tuple(air.paints),
        rows=tuple(
            AirRow(
                imagined=f"{step.imagined:.2f} m",
                built=f"{step.built:.1f} mm",
                contrast=f"{step.contrast:.2f}",
                share=f"{100 * step.share:.0f} %",
                paints=tuple(mixed(paint, air.haze, step.share) for paint in air.paints.values()),
            )
            for step in haze.steps
        ),
        strip=strip,
    )


def _lead(air: AirTable, haze: Haze) -> str:
    start = (
        "The haze begins at the opening, so the front keeps its colours"
        if air.start == "opening"
        else f"The haze begins at the eye, {haze.before:.1f} m before the opening, so even the front is a little pale"
    )
    source = SOURCES.get(air.threshold, "")
    return (
        f"At {air.visibility:g} m the air leaves {100 * air.threshold:g} % of every contrast{source}: "
        f"\N{GREEK SMALL LETTER SIGMA} = {haze.sigma:.4f} per metre. {start}. Lighten each depth by so much toward "
        f"{air.haze}, the haze. The shares are of light, and paints do not mix like light: mix by eye, let it dry, and "
        "hold it against the swatch in the light the room will have. Prove the print first: it shows the paints' own "
        "colours only as well as your printer does."
    )


def air_picture(evidence: Evidence, title: str) -> dict[str, bytes]:
    """Return the strip as a picture, for a scene with air."""
    found = haze_of_scene(evidence)
    if found is None:
        return {}
    air, haze = found
    blocks = blocks_of(haze, air.paints, air.haze)
    high = 2 * MARGIN + sum(block.height for block in blocks) + APART * (len(blocks) - 1)
    parts, top = [], MARGIN
    for block in blocks:
        parts += _drawn(block, top + block.height)
        top += block.height + APART
    words = "How far to lighten each depth toward the haze, for each paint; at true size."
    name = f"{title}: aerial perspective"
    return {AIR: pen.sheet(WIDE + 2 * MARGIN, high, title=name, words=words, hatches=(), parts=parts)}


def _drawn(block: Block, base: float) -> list[str]:
    """Return a block whose lower edge lies ``base`` mm below the sheet's upper edge."""
    out = [
        f'<rect x="{pen.number(MARGIN + x)}" y="{pen.number(base - y - high)}" width="{pen.number(wide)}" '
        f'height="{pen.number(high)}" fill="{patch.colour}"/>'
        for patch in block.patches
        for (x, y), (wide, high) in [(patch.at, patch.size)]
    ]
    out += [pen.polyline([(MARGIN + x, base - low), (MARGIN + x, base - high)], "thin") for x, low, high in block.ticks]
    out += [
        pen.note(
            (MARGIN + words.at[0], base - words.at[1]), words.text,
            anchor="middle" if words.middle else "start", font=words.size,
        )
        for words in block.words
    ]  # fmt: skip
    return out


def air_entry(evidence: Evidence) -> dict[str, Any] | None:
    """Return the manifest's entry: depths imagined in m and built in mm, the share of haze, the paints there."""
    found = haze_of_scene(evidence)
    if found is None:
        return None
    air, haze = found
    return {
        "visibility": air.visibility,
        "threshold": air.threshold,
        "sigma": round(haze.sigma, 6),
        "start": air.start,
        "haze": air.haze,
        "steps": [
            {
                "imagined": round(step.imagined, 4),
                "built": round(step.built, 4),
                "contrast": round(step.contrast, 4),
                "share": round(step.share, 4) + 0.0,
                "paints": {name: mixed(paint, air.haze, step.share) for name, paint in air.paints.items()},
            }
            for step in haze.steps
        ],
    }
