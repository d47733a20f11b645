"""What a reader of the report, the manifest and the page takes for granted of every finding."""

from __future__ import annotations

from collections.abc import Container, Iterable

import numpy as np

from pipeline.checks.evidence import Check, Evidence
from pipeline.checks.model import Finding

ELSEWHERE = (
    "half-rib",
    "rib-slices",
    "light-places",
    "wires-free",
    "figure-scale",
    "figure-room",
    "unseen",
    "relief-joints",
    "one-net",
)
"""Checks of what is no part, or was left out: of lights, figures, whole ribs, nets, faces that nobody sees."""


def hold_finding(finding: Finding, check: str, parts: Container[str]) -> None:
    """Hold a finding to whose question it answers, of what, with which figures and in which words."""
    assert finding.id == check
    assert isinstance(finding.part, str)
    assert finding.part in parts or finding.id in ELSEWHERE, finding
    assert finding.status in ("pass", "warn", "fail")
    assert finding.message, finding
    assert isinstance(finding.message, str)
    assert not finding.message.endswith((".", " ", "\n"))
    for figure in (finding.value, finding.limit):
        assert figure is None or np.isfinite(figure)
        assert finding.unit or figure is None or figure == int(figure), finding
    assert isinstance(finding.unit, str)


def hold(evidence: Evidence, checks: Iterable[Check]) -> set[str]:
    """Hold every finding of some checks, and return what they say."""
    parts = {part.id for part in evidence.parts} | {board.id for board in evidence.boards} | {""}
    parts |= {net.id for net in evidence.nets}
    seen: set[str] = set()
    for check in checks:
        for finding in check.run(evidence):
            hold_finding(finding, check.id, parts)
            seen.add(finding.status)
    return seen
