"""Do sheets, prints, glues, coats and paint go together?

Looked at is every pair that meets in this scene: what a sheet is cut with and the sheet, each glue and both sides of
its joint, those two sides, a coat or units laid by hand and what they lie on, paint and what it comes to lie on, filler
and what it is poured against.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from pipeline.casework.boards import Board
from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status
from pipeline.parts.bent import BentPanel
from pipeline.parts.model import Panel
from pipeline.scene.made_of import MadeOf, Side
from pipeline.scene.stuff import ClashTable, Stuff

ID = "clash"
NAMED = 3
"""Parts named in one message."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """Two that meet: what they are in words, what clashes may call either, and the parts it happens at."""

    told: str
    one: frozenset[str]
    other: frozenset[str]
    sealed: bool
    parts: tuple[str, ...]


def run(evidence: Evidence) -> list[Finding]:
    """Return a finding for each two that do not go together, and for each sheet of which nobody knows the stuff."""
    made = MadeOf(evidence.scene)
    met = list(meetings(evidence, made))
    findings = []
    for meeting in met:
        clash = made.shelf.clash(meeting.one, meeting.other, sealed=meeting.sealed)
        if clash is not None:
            findings.append(_clashing(meeting, clash))
    findings += _unknown(evidence, made)
    passed = len(met) - sum(finding.status == "fail" or finding.value == 1.0 for finding in findings)
    return [
        _finding("", "pass", 0.0, f"{passed} of {len(met)} pairs that meet go together, as far as is known"),
        *findings,
    ]


def meetings(evidence: Evidence, made: MadeOf) -> Iterator[Meeting]:
    """Yield everything that meets something else."""
    yield from _cutting(evidence, made)
    yield from _glueing(evidence, made)
    yield from _laying(evidence, made)
    yield from _painting(evidence, made)
    yield from _filling(evidence, made)


def _cutting(evidence: Evidence, made: MadeOf) -> Iterator[Meeting]:
    boards = (board for board in evidence.boards_cut if board.material)
    for material, parts in _by_material((*evidence.cut_parts, *boards)).items():
        side, tool = made.sheet(material), evidence.scene.materials[material].process
        if side.stuff is not None:
            told = f"{_called(side)} is cut by {tool}"
            yield Meeting(told=told, one=frozenset([tool]), other=side.words, sealed=side.sealed, parts=parts)


def _glueing(evidence: Evidence, made: MadeOf) -> Iterator[Meeting]:
    material = {part.id: part.material for part in evidence.cut_parts}
    asking = [made.sheet(name) for name in dict.fromkeys(material.values())]
    for side in (*asking, *((made.prints,) if evidence.prints else ())):
        if side.glue is not None and side.stuff is not None:
            told = f"{_called(side)} asks for {side.glue}"
            yield Meeting(
                told=told, one=made.named(side.glue).kinds, other=side.words, sealed=side.sealed, parts=(side.name,)
            )
    joints: dict[tuple[str | None, str | None], list[str]] = {}
    for one, other in evidence.touching:
        sides = (material.get(one), material.get(other))
        key = (sides[0], sides[1]) if (sides[0] or "") <= (sides[1] or "") else (sides[1], sides[0])
        joints.setdefault(key, []).append(f"{one} to {other}")
    for key, parts in joints.items():
        both = (made.side(key[0]), made.side(key[1]))
        glue = made.glue(*both).glue
        if key[0] != key[1] and both[0].stuff is not None and both[1].stuff is not None:
            told = f"{_called(both[0])} and {_called(both[1])} meet in a joint"
            sealed = any(side.sealed for side in both)
            yield Meeting(told=told, one=both[0].words, other=both[1].words, sealed=sealed, parts=tuple(parts))
        for side in both[:1] if key[0] == key[1] else both:
            if side.stuff is not None and glue.name != side.glue:
                told = f"{glue.name} glues {_called(both[0])} to {_called(both[1])}"
                yield Meeting(told=told, one=glue.kinds, other=side.words, sealed=side.sealed, parts=tuple(parts))


def _laying(evidence: Evidence, made: MadeOf) -> Iterator[Meeting]:
    laid: dict[tuple[str, str, str], list[str]] = {}
    for part in evidence.cut_parts:
        under = ""
        for stuff in layers(evidence, made, part):
            laid.setdefault((stuff.name, under, part.material), []).append(part.id)
            under = stuff.name
    for (name, below, material), parts in laid.items():
        upper, side = made.named(name), made.sheet(material)
        lower = made.named(below) if below else side.stuff
        if lower is not None:
            told = f"{name} is laid on {f'{below} over {material}' if below else _called(side)}"
            yield Meeting(told=told, one=upper.kinds, other=lower.kinds, sealed=side.sealed, parts=tuple(parts))


def layers(evidence: Evidence, made: MadeOf, part: Panel | BentPanel) -> list[Stuff]:
    """Return what lies on a part's sheet, the lowest first: the finish, and units laid up on it by hand."""
    name, finish = (part.face.cover, part.finish) if isinstance(part, Panel) else (part.web.cover, 0.0)
    cover = evidence.scene.covers.get(name or "")
    units = None if cover is None else made.units(name or "", part.material)
    if cover is None or cover.relief > 0:
        laid = [made.coat(part.material) if finish > 0 else None, units]
    else:
        laid = [units if finish > 0 else None]
    return [layer for layer in laid if layer is not None]


def _painting(evidence: Evidence, made: MadeOf) -> Iterator[Meeting]:
    paint = made.paint
    grounds: dict[tuple[str, str], list[str]] = {}
    for part in evidence.cut_parts:
        laid = layers(evidence, made, part)
        grounds.setdefault((laid[-1].name if laid else "", part.material), []).append(part.id)
    for (coating, material), parts in grounds.items():
        side = made.sheet(material)
        ground = made.named(coating) if coating else side.stuff
        if ground is not None:
            told = f"{coating or _called(side)} is painted with {paint.name}"
            yield Meeting(told=told, one=paint.kinds, other=ground.kinds, sealed=side.sealed, parts=tuple(parts))
    if evidence.prints and made.prints.stuff is not None:
        told = f"{_called(made.prints)} are painted with {paint.name}"
        printed = tuple(part.id for part in evidence.prints)
        yield Meeting(told=told, one=paint.kinds, other=made.prints.words, sealed=False, parts=printed)


def _filling(evidence: Evidence, made: MadeOf) -> Iterator[Meeting]:
    filler = made.filler
    if filler is None or evidence.scene.vault is None:
        return
    against = [
        part for part in evidence.cut_parts if isinstance(part, BentPanel) or part.id in ("left-wall", "right-wall")
    ]
    for material, parts in _by_material(against).items():
        side = made.sheet(material)
        if side.stuff is not None:
            told = f"{filler.name} is filled in behind {_called(side)}"
            yield Meeting(told=told, one=filler.kinds, other=side.words, sealed=side.sealed, parts=parts)


def _unknown(evidence: Evidence, made: MadeOf) -> Iterator[Finding]:
    for material, parts in _by_material(evidence.cut_parts).items():
        if made.sheet(material).stuff is None:
            message = (
                f"nobody can tell from its name what {material} is made of, so nothing was held against its glue, coat "
                f'and paint: write of = "card", "plywood" or what it is in [materials.{material}]'
            )
            yield _finding(parts[0] if len(parts) == 1 else "", "pass", 0.0, message)


def _by_material(parts: Iterable[Panel | BentPanel | Board]) -> dict[str, tuple[str, ...]]:
    out: dict[str, list[str]] = {}
    for part in parts:
        out.setdefault(part.material, []).append(part.id)
    return {material: tuple(ids) for material, ids in out.items()}


def _called(side: Side) -> str:
    """Return a side's name with what it is made of."""
    name = "" if side.stuff is None else side.stuff.name
    return side.name if name == side.name or not name else f"{side.name} ({name})"


def _clashing(meeting: Meeting, clash: ClashTable) -> Finding:
    more = len(meeting.parts) - NAMED
    where = ", ".join(meeting.parts[:NAMED]) + (f" and {more} more" if more > 0 else "")
    what = f"{clash.severity}: {meeting.told}: {clash.reason}"
    remedy = f"; {clash.instead or 'take something else for one of the two'}"
    part = meeting.parts[0] if len(meeting.parts) == 1 and " to " not in meeting.parts[0] else ""
    return _finding(part, "fail" if clash.severity == "danger" else "warn", 1.0, f"{what}{remedy} ({where})")


def _finding(part: str, status: Status, value: float, message: str) -> Finding:
    return Finding(id=ID, part=part, status=status, value=value, limit=0.0, unit="", message=message)


CHECK = Check(
    id=ID,
    title="Do sheets, prints, glues, coats and paint go together?",
    rationale="Glue that eats its sheet and clay that lets go are found out when the room is finished; fumes sooner.",
    run=run,
)
