"""Pictures and the page that shows them."""

from __future__ import annotations

from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.report.pictures import take_pictures


def pictures_and_page(evidence: Evidence, findings: list[Finding]) -> dict[str, bytes]:
    """Return the pictures."""
    return take_pictures(evidence.room, evidence.panels, evidence.prints)
