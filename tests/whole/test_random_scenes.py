"""Random valid scenes must build with no failed check."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings

from pipeline.build import make
from pipeline.checks import CHECKS
from pipeline.checks.evidence import Evidence
from pipeline.elements.problems import Problem
from pipeline.scene.problems import SceneFileError

from ..strategies import scenes


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(scenes())
def test_no_check_fails(text: str) -> None:
    """Every check of every part of any scene that can be built passes or warns."""
    evidence = make(text.encode())
    failed = [finding for check in CHECKS for finding in check.run(evidence) if finding.status == "fail"]
    assert failed == []


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(scenes(prints=False, behind=True))
def test_what_is_behind_openings_fits_or_is_refused(text: str) -> None:
    """Passages, niches and reveals under every head: a refusal that names the opening, or no failed check.

    Only the play round a printed lining may be seen through its hole: the check says how to fill it.
    """
    evidence, refused = attempt(text)
    assert {problem.path[0] for problem in refused} <= {"openings"}
    if evidence is None:
        return
    failed = [finding for check in CHECKS for finding in check.run(evidence) if finding.status == "fail"]
    assert [finding for finding in failed if "or they pass its play" not in finding.message] == []


def attempt(text: str) -> tuple[Evidence | None, list[Problem]]:
    """Return a scene as made, or why it is refused."""
    try:
        return make(text.encode()), []
    except SceneFileError as error:
        return None, list(error.problems)
