"""Can a real LED sit where every light is exact, in the box, free of parts and out of sight?"""

from __future__ import annotations

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status
from pipeline.elements.light import LightTable
from pipeline.parts.lighting.leds import Led, StandIn, WayIn
from pipeline.units import part_id

ID = "light-places"
MOST = 0.5
"""Share of a patch that misses its face, beyond which its distance tells nothing."""
SHADED = 0.02
"""Share of an opening's light that something takes which is told; less is the shadow of a wire's edge."""
FAR = 25.0
"""mm; a patch that lies farther off is another patch, and how far it strays at its worst tells nothing."""


def run(evidence: Evidence) -> list[Finding]:
    """Return for each light whether an LED has its place, and what one elsewhere would do."""
    return [_finding(light, led) for light, led in zip(evidence.scene.lights, evidence.leds, strict=True)]


def _finding(light: LightTable, led: Led) -> Finding:
    def found(status: Status, value: float | None, message: str) -> Finding:
        limit = None if value is None else 0.0
        return Finding(
            id=ID, part=part_id(light.name), status=status, value=value, limit=limit, unit="mm", message=message
        )

    if led.room is not None and led.room < 0:
        said = f"an LED of {light.size:g} mm at {at(led)} stands {-led.room:.1f} mm into {led.nearest}"
        move = f"move the lamp, as to {led.beside}" if led.beside else "move the lamp"
        return found("fail", led.room, f"{said}: {move}, or take a smaller LED")
    if led.usable and led.seen:
        said = f"an LED at {at(led)} is exact, but the eye sees it"
        return found("warn", led.room, f"{said}: hide it behind a pier or an arch, or let it be a lamp that shows")
    if led.usable and taken(led.ways):
        said = f"an LED at {at(led)} is exact, but {'; '.join(taken(led.ways))}"
        return found("warn", led.room, f"{said}: move that, or the lamp")
    if led.usable:
        return found("pass", led.room, f"an LED at {at(led)} is exact, {led.room or 0.0:.1f} mm clear of {led.nearest}")
    return found("warn", None, f"{why_not(led)}; {instead(led.ways)}")


def at(led: Led) -> str:
    """Return where an LED is exact, in words."""
    x, y, z = led.place.point or (0.0, 0.0, 0.0)
    return f"x {x:.1f}, y {y:.1f}, z {z:.1f} mm"


def why_not(led: Led) -> str:
    """Return why no LED can sit where it would be exact."""
    if led.place.nature == "parallel":
        return "its light is parallel in the built room too: no small lamp throws such"
    if led.place.nature == "converging":
        return f"its light runs together at {at(led)}: no small lamp throws such"
    return f"it is exact at {at(led)}, outside the box"


def taken(ways: tuple[WayIn, ...]) -> list[str]:
    """Return what built things take of an LED's light to each opening, in words."""
    words = []
    for way in ways:
        most = [f"{100 * share:.0f} % is taken by {part}" for part, share in way.shaded if share >= SHADED]
        if most:
            words.append(f"of its light to {way.name!r} {' and '.join(most)}")
    return words


def instead(ways: tuple[WayIn, ...]) -> str:
    """Return what LEDs at places that can be reached do instead."""
    words = []
    for way in ways:
        if way.stand_in is None:
            words.append(f"behind {way.name!r} there is no room for an LED")
            continue
        x, y, z = way.stand_in.place
        shaded = "".join(f"; {said}" for said in taken((way,)))
        words.append(f"behind {way.name!r} one at x {x:.1f}, y {y:.1f}, z {z:.1f} mm {_falls(way.stand_in)}{shaded}")
    return "; ".join([*words, "paint the patches instead (make.stencils), or let it do"])


def _falls(one: StandIn) -> str:
    """Return where a stand-in's light falls."""
    if one.missed > MOST:
        return f"shines elsewhere: {100 * one.missed:.0f} % of it falls beside the marked faces"
    if one.typical > FAR:
        return f"throws its patch far from the marks, by {one.typical:.0f} mm"
    missed = f"; {100 * one.missed:.0f} % of it falls elsewhere" if one.missed > 0 else ""
    return (
        f"throws its patch {one.typical:.1f} mm off, at worst {one.off:.1f} mm or {one.off_arcmin:.0f} minutes of arc"
        f"{missed}"
    )


CHECK = Check(
    id=ID,
    title="Can a real LED sit where every light is exact, in the box, free of parts and out of sight?",
    rationale="Light from elsewhere falls beside the marks, and an LED that shows gives the trick away.",
    run=run,
)
