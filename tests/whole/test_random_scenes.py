"""Random valid scenes must build with no failed check."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings

from pipeline.build import make
from pipeline.checks import CHECKS

from ..strategies import scenes


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(scenes())
def test_no_check_fails(text: str) -> None:
    """Every check of every part of any scene that can be built passes or warns."""
    evidence = make(text.encode())
    failed = [finding for check in CHECKS for finding in check.run(evidence) if finding.status == "fail"]
    assert failed == []
