"""Can every part be pushed straight in past those that are in before it?"""

from __future__ import annotations

from functools import partial

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding, Status
from pipeline.parts.order import HOME, Bench, Vector, in_words

ID = "push-in"
NAMED = 2
"""Parts named in one message; the first are enough to see what is meant."""


def run(evidence: Evidence) -> list[Finding]:
    """Return what is in whose way, in the order of work that the manifest gives."""
    whole = {part.id: part.solid.id for part in evidence.prints}
    entries = sorted(evidence.entries.values(), key=lambda entry: int(entry["order"]))
    offs: dict[str, Vector | None] = {}
    for entry in entries:
        off = None if entry["held_off"] is None else tuple(entry["held_off"])
        offs.setdefault(whole.get(entry["id"], entry["id"]), off)
    return evidence.kept.given((run, offs, *evidence.bench.inputs), partial(_pushed, evidence.bench, offs))


def _pushed(bench: Bench, offs: dict[str, Vector | None]) -> list[Finding]:
    """Return what is in whose way, each part held where ``offs`` says, in its order."""
    before: list[str] = []
    findings, straight = [], 0
    for part, off in offs.items():
        others = bench.blockers(part, before, HOME if off is None else off)
        if off == HOME and not others:
            straight += 1
        elif off is not None and not others:
            findings.append(_held_off(part, off, bench.blockers(part, before, HOME)))
        else:
            findings.append(_locked(part, others))
        before.append(part)
    message = f"{straight} of {len(before)} parts go straight in, square to the opening, in the order of work"
    return [_finding("", "pass", 0, message), *findings]


def _held_off(part: str, off: Vector, others: tuple[str, ...]) -> Finding:
    message = f"goes in past {_named(others)} held {in_words(off)}, and is then set home"
    return _finding(part, "pass", 0, message)


def _locked(part: str, others: tuple[str, ...]) -> Finding:
    message = f"no straight way in past {_named(others)}: glue it to {others[0]} before that goes in, or spring it past"
    return _finding(part, "warn", len(others), message)


def _named(others: tuple[str, ...]) -> str:
    """Return parts by name, not more than can be read."""
    more = len(others) - NAMED
    return " and ".join(others[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _finding(part: str, status: Status, others: int, message: str) -> Finding:
    return Finding(
        id=ID,
        part=part,
        status=status,
        value=float(others),
        limit=0.0,
        unit="parts",
        message=message,
    )


CHECK = Check(
    id=ID,
    title="Can every part be pushed straight in past those that are in before it?",
    rationale="A part that has to go round a corner to its place is only found out when the glue is on.",
    run=run,
)
