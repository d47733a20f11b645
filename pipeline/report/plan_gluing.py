"""What is glued in when, and with what: the order of pushing in, read as steps for the bench.

A part that has no straight way in past another is glued to that one on the bench, right before it goes in, where both
then have a way in together and are in nobody's way; else it is sprung past in its own turn.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from pipeline.checks.evidence import Evidence
from pipeline.elements.model import Task
from pipeline.geometry.meshes import signed_volume
from pipeline.parts.bent import BentPanel
from pipeline.parts.order import HOME, Vector, in_words
from pipeline.report.drying import dry_words
from pipeline.report.plan_model import JointRow, Step
from pipeline.report.quantities import filler_volume
from pipeline.scene.made_of import MadeOf, Side

TOUCHES_BOX = 0.2
"""mm; a part this near to a wall of the box is stuck to it."""
SHEET = 0
"""Kind of a flat sheet on the bench."""
NAMED = 6
"""Parts named in one step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """When a part comes: its id, its pieces', how it is held off, and to what it is glued before that goes in."""

    id: str
    parts: tuple[str, ...]
    off: Vector | None
    onto: str = ""


def turns(evidence: Evidence) -> list[Turn]:
    """Return every part in the order in which it is glued in."""
    whole = {part.id: part.solid.id for part in evidence.prints}
    found: dict[str, Turn] = {}
    for entry in sorted(evidence.entries.values(), key=lambda entry: int(entry["order"])):
        name = whole.get(entry["id"], entry["id"])
        off: Vector | None = None if entry["held_off"] is None else tuple(entry["held_off"])
        before = found.get(name)
        parts = (entry["id"],) if before is None else (*before.parts, entry["id"])
        found[name] = Turn(id=name, parts=parts, off=off)
    behind = {panel.id: panel.face.behind for panel in evidence.panels}
    beside = _neighbours(evidence)
    order = list(found.values())
    for turn in list(found.values()):
        host = found.get(behind.get(turn.id, "")) or _first_hold(evidence, turn, order, beside)
        chained = any(one.onto == turn.id or (host is not None and one.id == host.id and one.onto) for one in order)
        if host is not None and not chained and _waits_for(evidence, turn, host, order):
            order.remove(turn)
            order.insert(order.index(host), replace(turn, onto=host.id))
    out: list[Turn] = []
    for turn in order:
        holds = any(one.onto == turn.id for one in order)
        place = None if turn.off is not None or turn.onto or holds else _host(evidence, turn, out)
        if place is None:
            out.append(turn)
        else:
            out.insert(place, replace(turn, onto=out[place].id))
    return out


def _first_hold(evidence: Evidence, turn: Turn, order: list[Turn], beside: dict[str, list[str]]) -> Turn | None:
    """Return what a loose piece of sheet, which nothing holds when its turn comes, first touches of what follows."""
    if evidence.bench.pieces[turn.id].kind != SHEET or _box_words(evidence, turn):
        return None
    touched, place = beside.get(turn.id, []), order.index(turn)
    if any(one.id in touched for one in order[:place]):
        return None
    return next((one for one in order[place + 1 :] if one.id in touched), None)


def _waits_for(evidence: Evidence, turn: Turn, host: Turn, order: list[Turn]) -> bool:
    """Return whether a part that goes in before the one it lies behind can be glued to that, and go in with it."""
    first, last = order.index(turn), order.index(host)
    if first > last or turn.off != HOME or host.off != HOME or host.onto or not _smaller(evidence, turn, host):
        return False
    between = [one.id for one in order[first + 1 : last]]
    near = {one for pair in evidence.touching if turn.id in pair for one in pair}
    return near.isdisjoint(between) and not evidence.bench.blockers(turn.id, between, HOME)


def _smaller(evidence: Evidence, turn: Turn, host: Turn) -> bool:
    """Return whether a part is the smaller of two, and so the one that is glued to the other."""
    one, other = (abs(signed_volume(evidence.bench.pieces[part.id].body)) for part in (turn, host))
    return one < other


def _host(evidence: Evidence, turn: Turn, before: list[Turn]) -> int | None:
    """Return the place of the part that one without a way in is glued to on the bench, if both then go in."""
    bench = evidence.bench
    blockers = bench.blockers(turn.id, [one.id for one in before], HOME)
    if not blockers:
        return None
    place = next(number for number, one in enumerate(before) if one.id == blockers[0])
    host = before[place]
    beside = {one.id for one in before if one.onto == host.id}
    already = [one.id for one in before[:place] if one.id not in beside]
    if host.onto or host.off != HOME or not _smaller(evidence, turn, host) or bench.blockers(turn.id, already, HOME):
        return None
    later = (one for one in before[place + 1 :] if one.id not in beside)
    if any(bench.blockers(one.id, [turn.id], one.off or HOME) for one in later):
        return None
    return place


def glue_in(evidence: Evidence, made: MadeOf, tasks: Iterable[Task]) -> tuple[Step, ...]:
    """Return the steps of gluing in, each task of elements before the part that would close its way."""
    waiting: dict[str, list[Task]] = {}
    for task in tasks:
        waiting.setdefault(task.before, []).append(task)
    order = turns(evidence)
    closing = "front-frame" if any(turn.id == "front-frame" for turn in order) else ""
    beside = _neighbours(evidence)
    steps: list[Step] = []
    there: set[str] = set()
    for turn in order:
        if not turn.onto:  # what is glued on it on the bench closes its way together with it
            closing_now = (*(one.id for one in order if one.onto == turn.id), turn.id)
            steps += [_task_step(task) for name in closing_now for task in waiting.pop(name, [])]
        if turn.id == closing:
            steps += _before_closing(evidence, made)
        steps.append(_step(evidence, made, turn, there=there, beside=beside, order=order))
        there.add(turn.id)
    steps += [_task_step(task) for left in waiting.values() for task in left]
    return tuple(steps)


def filling(evidence: Evidence, made: MadeOf) -> tuple[Step, ...]:
    """Return the step of filling in behind the vault, where that is asked for."""
    filler = made.filler
    if filler is None or not filler_volume(evidence):
        return ()
    level = evidence.scene.work.fill_to
    to = "the box's top" if level is None else f"{level:g} mm above the box's bottom"
    text = (
        f"Fill in {filler.name} behind the vault, thinly and on both sides alike, up to {to}; its weight and its water "
        "must not move the cells, so let each layer set."
    )
    waits, dries = dry_words(made, filler), filler.dries or 0.0
    return (Step(text=text, waits=waits, dries=dries, cautions=("Glue and putty",)),)


def _before_closing(evidence: Evidence, made: MadeOf) -> list[Step]:
    look = (
        "Before the frame closes the opening: light every lamp, blow out dust and crumbs, look in from the eye point."
    )
    return [*filling(evidence, made), Step(text=look, waits="let all glue dry")]


def _task_step(task: Task) -> Step:
    return Step(text=task.text, cautions=task.cautions)


def _neighbours(evidence: Evidence) -> dict[str, list[str]]:
    """Return for each part, pieces of prints taken together, those that it touches."""
    whole = {part.id: part.solid.id for part in evidence.prints}
    out: dict[str, list[str]] = {}
    for pair in evidence.touching:
        one, other = (whole.get(part, part) for part in pair)
        if one != other:
            out.setdefault(one, []).append(other)
            out.setdefault(other, []).append(one)
    return {part: list(dict.fromkeys(others)) for part, others in out.items()}


def _step(
    evidence: Evidence, made: MadeOf, turn: Turn, *, there: set[str], beside: dict[str, list[str]], order: list[Turn]
) -> Step:
    if turn.onto:
        behind = any(panel.id == turn.id and panel.face.behind == turn.onto for panel in evidence.panels)
        why = ": once that is in, it has no straight way in" if turn.off is None else ""
        text = f"Glue {turn.id} {'to the back of' if behind else 'in its place on'} {turn.onto} on the bench{why}."
        glue = _glue_words(evidence, made, turn.id, [turn.onto], "")
        return Step(text=text, parts=turn.parts, glue=glue, waits="let it set")
    touched = beside.get(turn.id, [])
    already = {one.id for one in order if one.onto == turn.id}
    to = [other for other in touched if other in there - already]
    box = _box_words(evidence, turn)
    following = next((one.id for one in order if one.id in touched and one.id not in there), None)
    if to or box or following is None:  # it may touch nothing but what is glued to its back
        glue = _glue_words(evidence, made, turn.id, to, box)
    else:
        glue = _glue_words(evidence, made, turn.id, [following], "") + ", when that goes in; till then it only stands"
    return Step(text=_push_words(evidence, turn, there), parts=turn.parts, glue=glue)


def _push_words(evidence: Evidence, turn: Turn, there: set[str]) -> str:
    if turn.id.startswith("fillet-"):
        return f"Lay {turn.id} into the wedge behind its joint, flush with both hidden faces."
    bent = any(isinstance(part, BentPanel) and part.id == turn.id for part in evidence.bents)
    verb = "Ease" if bent else "Push"
    if turn.off is None:
        past = evidence.bench.blockers(turn.id, sorted(there), HOME)
        return f"Spring {turn.id} past {past[0] if past else 'what is in its way'}: it has no straight way in."
    if any(turn.off):
        return f"{verb} in {turn.id}, held {in_words(turn.off)}, and set it home."
    gap = evidence.scene.box.back_gap if turn.id == "back-wall" else 0.0
    return f"{verb} in {turn.id}{f', {gap:g} mm off the back of the box' if gap else ''}."


def _glue_words(evidence: Evidence, made: MadeOf, part: str, to: list[str], box: str) -> str:
    """Return with what a part is glued to which others: ``PVA glue to floor, left-wall; cyanoacrylate to ...``."""
    material = {one.id: one.material for one in evidence.cut_parts}
    found: dict[str, list[str]] = {}
    for other in to:
        glue = made.glue(made.side(material.get(part)), made.side(material.get(other))).glue.name
        found.setdefault(glue, []).append(other)
    words = {glue: _listed(others) for glue, others in found.items()}
    if box:
        usual = made.glue(made.side(material.get(part)), made.side(material.get(part))).glue.name
        words[usual] = f"{words[usual]} and {box}" if usual in words else box
    return "; ".join(f"{glue} to {others}" for glue, others in words.items())


def _listed(names: list[str]) -> str:
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _box_words(evidence: Evidence, turn: Turn) -> str:
    """Return which walls of the box a part stands against."""
    width, height, depth = evidence.room.box
    points = evidence.bench.pieces[turn.id].body.vertices
    low, high = points.min(axis=0), points.max(axis=0)
    walls = {
        "bottom": low[2] < TOUCHES_BOX,
        "left side": low[0] < -width / 2 + TOUCHES_BOX,
        "right side": high[0] > width / 2 - TOUCHES_BOX,
        "top": high[2] > height - TOUCHES_BOX,
        "back": high[1] > depth - TOUCHES_BOX,
    }
    found = [name for name, near in walls.items() if bool(np.any(near))]
    return "the box's " + " and ".join(found) if found else ""


def joint_rows(evidence: Evidence, made: MadeOf) -> tuple[JointRow, ...]:
    """Return which joints need which glue, by what meets in them."""
    material = {part.id: part.material for part in evidence.cut_parts}
    count: dict[tuple[str | None, str | None], int] = {}
    for one, other in evidence.touching:
        sides = (material.get(one), material.get(other))
        key = (sides[0], sides[1]) if (sides[0] or "~") <= (sides[1] or "~") else (sides[1], sides[0])
        count[key] = count.get(key, 0) + 1
    return tuple(_joint_row(made, key, number) for key, number in count.items())


def _joint_row(made: MadeOf, key: tuple[str | None, str | None], joints: int) -> JointRow:
    one, other = made.side(key[0]), made.side(key[1])
    glued = made.glue(one, other)
    note = ""
    if glued.instead_of is not None:
        note = f"not {glued.instead_of[0]}: {glued.instead_of[1]}"
    elif glued.clash is not None:
        note = f"this does not go together: {glued.clash.reason}"
    return JointRow(
        sides=f"{_called(one)} to {_called(other)}",
        glue=glued.glue.name,
        dries=dry_words(made, glued.glue),
        joints=joints,
        note=note,
    )


def _called(side: Side) -> str:
    return side.name if side.stuff is None or side.stuff.name == side.name else f"{side.name} ({side.stuff.name})"
