"""What a scene says of its work that comes to nothing."""

from __future__ import annotations

from pipeline.checks.evidence import Evidence
from pipeline.report.model import Note
from pipeline.report.quantities import filler_volume


def work_notes(evidence: Evidence) -> tuple[Note, ...]:
    """Return a note where filler is asked for and none goes in, or is to reach a level and there is none."""
    work, vault = evidence.scene.work, evidence.scene.vault
    if work.filler is None:
        text = "work.fill_to asks for work.filler, what is filled in; without it nothing is"
        return () if work.fill_to is None else (Note(subject="work", text=text),)
    if vault is None:
        text = "work.filler fills what lies behind a vault, and there is none: nothing is filled in"
        return (Note(subject="work", text=text),)
    if not filler_volume(evidence):
        text = "up to work.fill_to nothing is free behind the vault, which begins at its springing: make it higher"
        return (Note(subject="work", text=text),)
    return ()
