"""What the page and the manifest say of the lights."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from pipeline.checks.evidence import Evidence
from pipeline.checks.light_places import at, instead, taken, why_not
from pipeline.elements.light import LightTable
from pipeline.parts.leaves import Lie, lie_of
from pipeline.parts.lighting.flat_patches import flat_patches, flat_shape
from pipeline.parts.lighting.leds import Led, WayIn
from pipeline.parts.lighting.model import HALL, Cast, Patch, Shadow
from pipeline.report.light_picture import light_svg
from pipeline.report.rounded import rounded_all, rounded_rows
from pipeline.report.wiring_rows import ohms
from pipeline.room.light_places import place_light
from pipeline.room.resistor import Series, resistor, series_of
from pipeline.units import part_id

FINE = 0.005
"""mm; how far the outlines told may stray from curves."""
MORE = 0.005
"""Share of an opening's light; less falls beside the marks by less than anybody sees."""
ROUGH = 0.05
"""mm; the same for areas on the page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LightRow:
    """A light in words.

    Attributes
    ----------
    name, kind
        Its name, and what it is.
    picture, file
        SVG of our own making, and its relative path.
    advice
        What about, and what to know.
    patches
        Part, openings passed, and area, of each patch.
    shadows
        Part, and what shades it.
    stencils
        Id and relative path of each of its stencils.
    """

    name: str
    kind: str
    picture: bytes
    file: str
    advice: tuple[tuple[str, str], ...]
    patches: tuple[tuple[str, str, str], ...]
    shadows: tuple[tuple[str, str], ...]
    stencils: tuple[tuple[str, str], ...] = ()


def light_pictures(evidence: Evidence) -> dict[str, bytes]:
    """Return a picture of every light, by relative path."""
    return {_file(light): light_svg(evidence, number) for number, light in enumerate(evidence.scene.lights)}


def light_rows(evidence: Evidence, pictures: Mapping[str, bytes]) -> tuple[LightRow, ...]:
    """Return the lights as the page tells them."""
    lies, names = _lies(evidence), {part_id(cut.name): cut.name for cut in evidence.imagined.cuts}
    return tuple(
        LightRow(
            name=light.name,
            kind=_kind(light, cast),
            picture=pictures[_file(light)],
            file=_file(light),
            advice=_advice(light, cast, led, evidence),
            patches=tuple(
                (
                    patch.part,
                    ", then ".join(names.get(gate, gate) for gate in patch.through),
                    f"{flat_shape(patch.loops, lies[patch.part], ROUGH).area:.0f} mm\N{SUPERSCRIPT TWO}",
                )
                for patch in cast.patches
            ),
            shadows=_shaded(cast.shadows),
            stencils=tuple((one.id, f"stencils/{one.id}.svg") for one in evidence.stencils if one.light == light.name),
        )
        for light, cast, led in zip(evidence.scene.lights, evidence.casts, evidence.leds, strict=True)
    )


def _file(light: LightTable) -> str:
    return f"pictures/light-{part_id(light.name)}.svg"


def _kind(light: LightTable, cast: Cast) -> str:
    if light.kind == "beam":
        return "a beam"
    return "a lamp in the hall" if cast.cell == HALL else "a lamp behind a wall"


def _shaded(shadows: Iterable[Shadow]) -> tuple[tuple[str, str], ...]:
    by: dict[str, list[str]] = {}
    for shadow in shadows:
        by.setdefault(shadow.part, []).append(shadow.by)
    return tuple((part, ", ".join(dict.fromkeys(things))) for part, things in by.items())


def _advice(light: LightTable, cast: Cast, led: Led, evidence: Evidence) -> tuple[tuple[str, str], ...]:
    out = [("Place", _place(light, led))]
    if led.place.nature != "lamp":
        out.append(("Rays", _rays(led, evidence)))
    if led.usable:
        seen = "The eye sees it there." if led.seen else "No eye in the eye box sees it there."
        out.append(("Seen", seen))
    elif led.ways:
        words = instead(led.ways)
        out.append(("Instead", f"{words[:1].upper()}{words[1:]}."))
    if led.usable and taken(led.ways):
        words = "; ".join(taken(led.ways))
        out.append(("In its light", f"{words[:1].upper()}{words[1:]}: move that, or the lamp."))
    holes = [words for way in led.ways for words in [_hole(way)] if words]
    if holes:
        said = f"With {'; '.join(holes)} it lights exactly from its place outside."
        out.append(("From outside", said))
    thick = [words for way in led.ways for words in [_thickness(way)] if words]
    if thick:
        words = "; ".join(thick)
        out.append(
            (
                "Thickness",
                f"{words[:1].upper()}{words[1:]}. Pare the hole's hidden edges, or let the border fall short.",
            )
        )
    more = [words for way in led.ways for words in [_more(way)] if words]
    if more:
        words = "; ".join(more)
        out.append(
            ("Reveal", f"{words[:1].upper()}{words[1:]}, beside the marks: glue a rim behind the hole, or let it.")
        )
    if evidence.room.hall.apron > 0:
        far = f", up to {led.apron_off:.1f} mm here" if led.apron_off > 0 else ""
        out.append(("Apron", f"The apron is built true, so there real light falls beside the marks{far}: paint them."))
        hangs = light.spot(evidence.room.hall)
        if light.kind == "lamp" and hangs[1] < evidence.room.hall.apron:
            x, y, z = hangs
            true = f"x {x:.1f}, y {y:.1f}, z {z:.1f} mm"
            out.append(
                ("Lamp", f"It hangs on the apron. What lies on the apron too it lights truly from {true} alone.")
            )
    if led.unmarked:
        said = f"It also falls on {', '.join(led.unmarked)}: bent panels and prints bear no marks; paint them by eye."
        out.append(("Unmarked", said))
    series = series_of(light)
    if series is not None and evidence.scene.wiring is None:
        out.append(("Resistor", _resistor(light, series)))
    if cast.cell == HALL:
        out.append(("Marks", "It lights all of the hall that it sees; what is marked is the shadows' borders."))
    return tuple(out)


def _place(light: LightTable, led: Led) -> str:
    if led.place.nature in ("converging", "parallel"):
        return f"{why_not(led)[:1].upper()}{why_not(led)[1:]}."
    if not led.place.inside_box:
        _, y, _ = led.place.point or (0.0, 0.0, 0.0)
        return f"An LED at {at(led)} throws it exactly; that is outside the box, {y:.1f} mm behind its opening."
    room = led.room or 0.0
    free = f"{room:.1f} mm clear of {led.nearest}" if room >= 0 else f"{-room:.1f} mm into {led.nearest}"
    return f"An LED of {light.size:g} mm with its middle at {at(led)} throws it exactly; it is {free}."


def _rays(led: Led, evidence: Evidence) -> str:
    vanishing = evidence.room.relief.vanishing_depth
    if led.place.nature == "parallel":
        return "The beam runs along the opening, and stays parallel in the built room."
    where = f"a point of the vanishing plane, {vanishing or 0.0:.1f} mm behind the opening"
    if led.place.nature == "leaving":
        return f"The beam travels toward the viewer, so in the built room its light comes from {where}."
    return f"The beam travels inward, so in the built room its light runs together in {where}."


def _resistor(light: LightTable, series: Series) -> str:
    """Return what a light wants in series, where no section of wiring tells it."""
    return (
        f"{ohms(series.ohm)} in series for each LED (from {series.exact:.4g} ohm, the next value up of E24), rated "
        f"{series.rating:g} W: {1000 * series.current:.1f} mA at {light.supply:g} V. With [wiring] its wires, their "
        "holes and a battery are planned too."
    )


def _hole(way: WayIn) -> str:
    """Return what must be open in the box for light from outside to reach an opening, in words."""
    if way.outlet is None:
        return ""
    box = {"back-wall": "back", "floor": "bottom", "ceiling": "top"}.get(
        way.outlet.wall, way.outlet.wall.removesuffix("-wall")
    )
    spans = [
        f"{name} {a:.1f} to {b:.1f}"
        for name, a, b in zip("xyz", way.outlet.low, way.outlet.high, strict=True)
        if b - a > ROUGH
    ]
    return f"the box's {box} sawn open over {', '.join(spans)} mm for {way.name!r}"


def _more(way: WayIn) -> str:
    """Return what an opening lets in beside the marks, in words."""
    if way.more < MORE:
        return ""
    return f"the reveal of {way.name!r} is thicker than what is built, so {100 * way.more:.0f} % more light passes"


def _thickness(way: WayIn) -> str:
    if way.cut_off is None or way.cut_off < 0.005:
        return ""
    return f"the sheet round {way.name!r} cuts off {100 * way.cut_off:.0f} % of the light"


def light_entries(evidence: Evidence) -> list[dict[str, Any]]:
    """Return the manifest's list of lights; places built, outlines flat, mm."""
    room, lies = evidence.room, _lies(evidence)
    entries = []
    for number, (light, cast) in enumerate(zip(evidence.scene.lights, evidence.casts, strict=True)):
        place = place_light(light, room.hall, room.relief, room.inside)
        entry: dict[str, Any] = {
            "name": light.name,
            "kind": light.kind,
            "place": None if place.point is None else rounded_all(place.point),
            "rays": place.nature,
            "inside_box": place.inside_box,
            "resistor_ohm": resistor(light),
            "patches": [
                {"part": patch.part, "through": list(patch.through), **outline}
                for patch in cast.patches
                for outline in _outlines(patch, lies)
            ],
            "shadows": [
                {"part": shadow.part, "by": shadow.by, **outline}
                for shadow in cast.shadows
                for outline in _outlines(shadow, lies)
            ],
        }
        if evidence.leds:
            led = evidence.leds[number]
            entry |= {"seen": led.seen, "room": None if led.room is None else round(led.room, 6)}
            entry["unmarked"] = list(led.unmarked)
            entry["openings"] = [_opening(way) for way in led.ways]
        entries.append(entry)
    return entries


def stencil_entries(evidence: Evidence) -> list[dict[str, Any]]:
    """Return the manifest's list of stencils; pins flat on the panel, mm."""
    return [
        {
            "id": one.id,
            "part": one.panel,
            "light": one.light,
            "sprays": one.kind,
            "material": one.material or None,
            "files": {"dxf": f"stencils/{one.id}.dxf", "svg": f"stencils/{one.id}.svg"},
            "pins": rounded_rows(one.pins),
            "bridges": one.islands,
        }
        for one in evidence.stencils
    ]


def _opening(way: WayIn) -> dict[str, Any]:
    """Return what an opening lets in, and what an LED at a reachable place does instead."""
    one = way.stand_in
    return {
        "name": way.name,
        "open": round(way.share, 6),
        "cut_off": None if way.cut_off is None else round(way.cut_off, 6) + 0.0,
        "more": round(way.more, 6) + 0.0,
        "shaded": [{"by": part, "share": round(share, 6)} for part, share in way.shaded],
        "outlet": None
        if way.outlet is None
        else {"wall": way.outlet.wall, "low": rounded_all(way.outlet.low), "high": rounded_all(way.outlet.high)},
        "stand_in": None
        if one is None
        else {
            "place": rounded_all(one.place),
            "typical": round(one.typical, 6),
            "off": round(one.off, 6),
            "off_arcmin": round(one.off_arcmin, 6),
            "missed": round(one.missed, 6),
        },
    }


def _lies(evidence: Evidence) -> dict[str, Lie]:
    if not evidence.casts:
        return {}
    return {face.id: lie_of(face, evidence.room.relief) for face in evidence.imagined.faces}


def _outlines(one: Patch | Shadow, lies: dict[str, Lie]) -> list[dict[str, Any]]:
    return [
        {
            "outline": rounded_rows(piece.outline),
            **({"holes": [rounded_rows(hole) for hole in piece.holes]} if piece.holes else {}),
        }
        for piece in flat_patches(one.loops, lies[one.part], FINE)
    ]
