"""What the page knows, and how each event changes it.

Terms
-----
moved
    Values set on the page that differ from the file's; what ``save`` writes.
serial
    Counts what was asked for. An answer to anything but the latest question is let go.
epoch
    Counts how often the file's values took over, so that the page sets its knobs anew.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from pipeline.checks.model import Finding
from pipeline.live.knobs import BY_KEY, KNOBS, Values
from pipeline.live.looking import Fault, Glance, Outline, Shapes


@dataclass(frozen=True, slots=True, kw_only=True)
class Building:
    """A build under way or over.

    Attributes
    ----------
    stage
        Which of how many it is in, and what that is called; nothing once it is over.
    lines
        What became of it.
    failed
        Whether it was refused.
    """

    stage: tuple[int, int, str] | None
    lines: tuple[str, ...] = ()
    failed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Everything the page shows."""

    name: str
    serial: int = 0
    epoch: int = 0
    file: Values = ()
    moved: Values = ()
    glance: Glance | None = None
    outlines: tuple[Outline, ...] = ()
    shapes: Shapes | None = None
    findings: tuple[Finding, ...] = ()
    judged: bool = False
    faults: tuple[Fault, ...] = ()
    gone: bool = False
    building: Building | None = None
    notice: str = ""


def move(state: State, key: str, value: float) -> State:
    """Set one value; what is not a knob that the scene gives, or no number within reach, changes nothing."""
    given = dict(state.file)
    if key not in given or not -1e6 < value < 1e6:  # written so that nan fails
        return state
    values = {**dict(state.moved), key: BY_KEY[key].rounded(value)}
    moved = tuple(
        (knob.key, values[knob.key])
        for knob in KNOBS
        if values.get(knob.key, given.get(knob.key)) != given.get(knob.key)
    )
    if moved == state.moved:
        return state
    return replace(state, moved=moved, serial=state.serial + 1, judged=False, notice="")


def take_back(state: State) -> State:
    """Go back to the file's values."""
    return replace(state, moved=(), serial=state.serial + 1, epoch=state.epoch + 1, judged=False, notice="")


def change_file(state: State) -> State:
    """Ask anew, as the file has changed."""
    return replace(state, serial=state.serial + 1, judged=False, gone=False)


def lose_file(state: State) -> State:
    """Keep what is shown; the file is gone."""
    return replace(state, gone=True, notice="")


def read_file(state: State, file: Values) -> State:
    """Take the file's values: what was moved here stays, unless the file has another value than before there."""
    if file == state.file:
        return state
    before, now = dict(state.file), dict(file)
    kept = {key: value for key, value in state.moved if before.get(key) == now.get(key) and now.get(key) != value}
    moved = tuple((key, value) for key, value in state.moved if key in kept)
    return replace(state, file=file, moved=moved, epoch=state.epoch + 1)


def glimpse(state: State, serial: int, glance: Glance) -> State:
    """Show figures, if they answer the latest question."""
    return replace(state, glance=glance, faults=()) if serial == state.serial else state


def form(state: State, serial: int, outlines: tuple[Outline, ...], shapes: Shapes | None) -> State:
    """Show outlines and shapes, if they answer the latest question; where only some outlines come, the others stay."""
    if serial != state.serial:
        return state
    if shapes is not None:
        return replace(state, outlines=outlines, shapes=shapes)
    new = {outline[0] for outline in outlines}
    return replace(state, outlines=(*outlines, *(one for one in state.outlines if one[0] not in new)))


def judged(state: State, serial: int, findings: tuple[Finding, ...]) -> State:
    """Show findings, if they answer the latest question."""
    return replace(state, findings=findings, judged=True) if serial == state.serial else state


def refuse(state: State, serial: int, faults: tuple[Fault, ...]) -> State:
    """Say what is wrong; the last good picture stays."""
    return replace(state, faults=faults, judged=False) if serial == state.serial else state


def saved(state: State, notice: str) -> State:
    """Say that the moved values are the file's now."""
    file = {**dict(state.file), **dict(state.moved)}
    values = tuple((knob.key, file[knob.key]) for knob in KNOBS if knob.key in file)
    return replace(state, file=values, moved=(), epoch=state.epoch + 1, notice=notice)
