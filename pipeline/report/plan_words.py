"""The order of work in words: steps numbered, and each caution once in a phase, where it is first needed."""

from __future__ import annotations

from pipeline.report.cautions import CAUTIONS
from pipeline.report.drying import hours_words
from pipeline.report.plan_model import PhaseWords, PlanWords, StepWords, WorkPlan


def plan_words(work: WorkPlan) -> PlanWords:
    """Return the order of work as the page shows it; a caution is told once in each phase, where it is first needed."""
    phases = []
    number = 0
    for phase in work.phases:
        told: set[str] = set()
        beside = _cautions(phase.cautions, told)
        steps = []
        for step in phase.steps:
            number += 1
            steps.append(StepWords(number=number, step=step, cautions=_cautions(step.cautions, told)))
        hours = "" if phase.hours is None else f"about {phase.hours:.1f} h"
        phases.append(
            PhaseWords(heading=phase.heading, lead=phase.lead, hours=hours, cautions=beside, steps=tuple(steps))
        )
    dries = hours_words(work.dries) if work.dries else ""
    return PlanWords(phases=tuple(phases), joints=work.joints, dries=dries)


def _cautions(subjects: tuple[str, ...], told: set[str]) -> tuple[tuple[str, str], ...]:
    """Return the cautions by subject that were not told yet."""
    texts = {caution.subject: caution.text for caution in CAUTIONS}
    new = [subject for subject in dict.fromkeys(subjects) if subject in texts and subject not in told]
    told.update(new)
    return tuple((subject, texts[subject]) for subject in new)
