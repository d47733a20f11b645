"""The order of work as values: phases of numbered steps.

Terms
-----
phase
    Work of one kind, such as cutting, with what to mind in it.
step
    One thing to do and to tick off.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do.

    Attributes
    ----------
    text
        What to do, a sentence or two.
    parts
        Ids of the parts that are fitted by it; every part is fitted by one step.
    glue
        What with, and to what.
    waits, dries
        What must dry before the next step, and how long, h; 0 where nobody knows.
    cautions
        Subjects of the cautions that belong to it.
    """

    text: str
    parts: tuple[str, ...] = ()
    glue: str = ""
    waits: str = ""
    dries: float = 0.0
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """Steps of one kind, what to know before them, and how long they take where the scene's rates tell.

    ``cautions`` are the subjects of those that belong to all of it.
    """

    heading: str
    steps: tuple[Step, ...]
    lead: str = ""
    cautions: tuple[str, ...] = ()
    hours: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JointRow:
    """Which glue joins two kinds of things, how long it dries, and why no other."""

    sides: str
    glue: str
    dries: str
    joints: int
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPlan:
    """The whole order of work, and which joints need which glue."""

    phases: tuple[Phase, ...]
    joints: tuple[JointRow, ...]

    @property
    def steps(self) -> tuple[Step, ...]:
        """All steps in order; a step's number is its place here, from 1."""
        return tuple(step for phase in self.phases for step in phase.steps)

    @property
    def dries(self) -> float:
        """How long coats, paint and filler dry, one after another, h."""
        return sum(step.dries for step in self.steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWords:
    """A step as the page shows it: its number, and the cautions beside it as subject and text."""

    number: int
    step: Step
    cautions: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseWords:
    """A phase as the page shows it."""

    heading: str
    lead: str
    hours: str
    cautions: tuple[tuple[str, str], ...]
    steps: tuple[StepWords, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanWords:
    """The order of work as the page shows it, and how long all but glue dries."""

    phases: tuple[PhaseWords, ...]
    joints: tuple[JointRow, ...]
    dries: str = ""
