"""How to photograph the room, in plain words."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pipeline.report.forgiving import ARC_MINUTE
from pipeline.report.photographing import Photograph, Rectangle, Setting

THERE = 0.05
"""mm; nearer than this to the eye point a camera stands on it."""
TRIMMED = 0.0005
"""Share of a side; less is nothing to trim."""
LISTED = 8
"""Focus distances told one by one in the table."""
TENTH = 0.05
"""mm of leeway from which on a tenth of a millimetre is fine enough to tell a focus by."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ApertureRow:
    """A line of the table: what an aperture shows sharp, how many pictures it takes and where, its diffraction."""

    number: str
    sharp: str
    pictures: str
    focus: str
    airy: str
    best: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotographWords:
    """Everything the section of the page says."""

    lead: str
    rows: tuple[ApertureRow, ...]
    advice: tuple[tuple[str, str], ...]


def photograph_words(found: Photograph) -> PhotographWords:
    """Return the section's content."""
    width, height = found.sensor
    return PhotographWords(
        lead=(
            f"With a lens of {found.focal:g} mm and a sensor of {width:g} \N{MULTIPLICATION SIGN} {height:g} mm. "
            "All distances are counted from the lens's entrance pupil, square to the opening."
        ),
        rows=tuple(_row(one, found) for one in found.settings),
        advice=(
            ("Where it stands", _place(found)),
            ("The entrance pupil", PUPIL),
            ("Which way it points", _aim(found)),
            ("Which lens", _lens(found)),
            ("Which aperture", _aperture(found)),
            ("Where to focus", _focus(found)),
            ("What to trim", _crop(found)),
        ),
    )


PUPIL = (
    "It is where the diaphragm seems to lie when you look into the lens from the front; its maker tells how far from "
    "the film plane, and it is not the sensor. To find it, turn the camera a little from side to side on its stand: "
    "two pins, one behind the other before the lens, keep in line while it turns about the pupil."
)


def _row(one: Setting, found: Photograph) -> ApertureRow:
    near, far = one.sharp
    return ApertureRow(
        number=f"f/{one.number:g}",
        sharp=f"{near:.0f} to {far:.0f} mm" if math.isfinite(far) else f"from {near:.0f} mm on",
        pictures=f"{one.pictures}",
        focus=_listed(one),
        airy=f"{one.airy:.3f} mm",
        best=one is found.best,
    )


def _listed(one: Setting, most: int = LISTED) -> str:
    """Return where to focus, as finely as it matters."""
    if not one.focus:
        return "too many to set by hand"
    decimals = 1 if one.leeway >= TENTH else 2
    told = [f"{s:.{decimals}f}" for s in one.focus]
    if len(told) > most:
        told = [*told[:2], "...", told[-1]]
    return f"{', '.join(told)} mm"


def _place(found: Photograph) -> str:
    x, y, z = found.pupil
    side = "in the middle" if abs(x) < THERE else f"{abs(x):.1f} mm {'right' if x > 0 else 'left'} of the middle"
    board = "" if found.board is None else f" ({z + found.board:.1f} mm above what the box stands on)"
    said = f"Its entrance pupil {-y:.1f} mm before the opening, {z:.1f} mm above the inside bottom of the box"
    said = f"{said}{board}, {side}"
    if not (found.opening[0] < x < found.opening[2] and found.opening[1] < z < found.opening[3]):
        said += ". It is not in front of the opening, so that a picture square to that shows little of the room"
    moves = [there - eye for there, eye in zip(found.pupil, found.eye, strict=True)]
    if max(map(abs, moves)) < THERE:
        return f"{said}: on the eye point, where the room looks as imagined."
    off, limit = found.parallax_rad / ARC_MINUTE, found.limit_rad / ARC_MINUTE
    words = (("to the left", "to the right"), ("farther off", "nearer"), ("lower", "higher"))
    where = " and ".join(
        f"{abs(move):.1f} mm {pair[move > 0]}" for move, pair in zip(moves, words, strict=True) if abs(move) >= THERE
    )
    cost = (
        f"{said}. That is off the eye point, {where}: something in the picture then lies {off:.1f}\N{PRIME} off the "
        f"imagined room, {found.smear:.2f} mm on the sensor; "
    )
    if off <= limit:
        return f"{cost}the {limit:g}\N{PRIME} of eye.parallax allow that."
    return (
        f"{cost}eye.parallax allows {limit:g}\N{PRIME}. Straight lines will look bent and covers will not meet: bring "
        "the pupil to the eye point and choose another lens for the size, or build for an eye where the camera is."
    )


def _aim(found: Photograph) -> str:
    turned = "on its side" if found.upright else "level"
    return (
        f"Square to the opening, the camera {turned}: uprights stay upright, and one focus serves the whole plane of "
        "the opening. Close in with a longer lens or by trimming, never by moving."
    )


def _lens(found: Photograph) -> str:
    left, bottom, right, top = found.frame
    opening, hall = found.longest
    seen = f"This one shows {right - left:.0f} \N{MULTIPLICATION SIGN} {top - bottom:.0f} mm of the opening's plane"
    ours = f"The longest that shows the whole opening is {_down(opening)} mm, the hall alone {_down(hall)} mm."
    cut = _cut_off(found.frame, found.opening)
    if not cut:
        return f"{seen}, the opening whole within it. {ours}"
    return f"{seen} and cuts the opening off: {cut}. {ours}"


def _cut_off(frame: Rectangle, shown: Rectangle) -> str:
    left, bottom, right, top = (
        frame[0] - shown[0], frame[1] - shown[1], shown[2] - frame[2], shown[3] - frame[3],
    )  # fmt: skip
    sides = (("left", left), ("right", right), ("below", bottom), ("above", top))
    return ", ".join(f"{size:.1f} mm {name}" for name, size in sides if size > THERE)


def _down(focal: float) -> str:
    """Return a focal length rounded down to a tenth: one that is longer would cut off."""
    return f"{math.floor(focal * 10 + 1e-9) / 10:g}"


def _aperture(found: Photograph) -> str:
    best = found.best
    wanted = f"One picture sharp from {found.near:.0f} to {found.far:.0f} mm wants f/{found.stop:.1f} or more"
    if not best.focus:
        return (
            f"{wanted}. At f/{best.number:g} it would take {best.pictures:,} pictures: take a shorter lens, or build "
            f"for an eye farther away.{_alone(found)}"
        )
    blurred = best.airy > found.blur
    several = "one picture" if best.pictures == 1 else f"{best.pictures} pictures, focused in turn and merged,"
    if blurred:
        return (
            f"{wanted}. Diffraction alone makes a disc of {best.airy:.3f} mm of every point even at f/{best.number:g}, "
            f"more than the {found.blur:.3f} mm that pass for a point: nothing will be quite sharp at that size. Take "
            f"{several} at f/{best.number:g}.{_alone(found)}"
        )
    if best.pictures == 1:
        return f"{wanted}: take f/{best.number:g}, focused at {found.focus:.0f} mm."
    one = next((row for row in found.settings if row.pictures == 1), None)
    if one is None:
        return f"{wanted}, more than the lens has: take {several} at f/{best.number:g}.{_alone(found)}"
    return (
        f"{wanted}, but at f/{one.number:g} diffraction makes a disc of {one.airy:.3f} mm of every point, more than "
        f"the {found.blur:.3f} mm that pass for one: all of it would be a little soft. Crisper: {several} at "
        f"f/{best.number:g}.{_alone(found)}"
    )


def _alone(found: Photograph) -> str:
    """Return which lens would do with one picture, as a sentence after another one."""
    if found.alone is None or found.alone[0] >= found.focal:
        return ""
    focal, number = found.alone
    return (
        f" With a lens of up to {_down(focal)} mm one picture at f/{number:g} would be enough: it shows the room "
        f"{focal / found.focal:.2f} times as large, to be trimmed."
    )


def _focus(found: Photograph) -> str:
    best = found.best
    if not best.focus:
        return "In more steps than anybody sets by hand: another lens first."
    said = f"At {_listed(best, most=len(best.focus))}"
    which = "each" if best.pictures > 1 else "it"
    missed = f"; {which} may be missed by {best.leeway:.1f} mm" if TENTH <= best.leeway < found.near else ""
    return (
        f"{said}{missed}; set a ruler up beside the box and focus on that line of it. The scale on a lens counts from "
        f"the film plane (the mark on the camera), about {found.beside_film:.0f} mm farther for a thin lens: "
        f"{found.nearest:.0f} mm from the pupil read {found.nearest + found.beside_film:.0f} mm there. Blur up to "
        f"{found.blur:.3f} mm on the sensor passes for a point; a large print wants less (camera.blur)."
    )


def _crop(found: Photograph) -> str:
    names = ("left", "below", "right", "above")
    lost = [name for name, share in zip(names, found.crop, strict=True) if share < -TRIMMED]
    trims = [f"{100 * share:.1f} % {name}" for name, share in zip(names, found.crop, strict=True) if share > TRIMMED]
    width, height = found.hall[2] - found.hall[0], found.hall[3] - found.hall[1]
    said = f"The hall is {width:.1f} \N{MULTIPLICATION SIGN} {height:.1f} mm at the opening"
    if lost:
        return f"{said}; the frame cuts it off {', '.join(lost)}: take a shorter lens."
    return f"{said}. To show it alone, trim {', '.join(trims)} of the picture's width or height."
