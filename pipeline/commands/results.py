"""What became of scenes, for people and for programs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from pipeline.commands.attempts import Attempt
from pipeline.commands.terminal import Terminal


def report(attempt: Attempt, terminal: Terminal, lines: Iterable[str]) -> None:
    """Write the errors of one scene to stderr, and ``lines`` to stdout unless the terminal is quiet."""
    for error in attempt.errors:
        terminal.problem(error)
    if not terminal.quiet:
        for line in lines:
            terminal.result(line)


def as_json(attempts: Sequence[Attempt]) -> dict[str, Any]:
    """Return the one document ``--json`` writes."""
    return {"exit": int(max(a.exit for a in attempts)), "scenes": [entry(a) for a in attempts]}


def entry(attempt: Attempt) -> dict[str, Any]:
    """Return what became of one scene."""
    manifest = attempt.build.manifest if attempt.build else {}
    return {
        "scene": str(attempt.scene.path),
        "exit": int(attempt.exit),
        "folder": str(attempt.folder) if attempt.folder else None,
        "relief": manifest.get("relief"),
        "parts": [part["id"] for part in manifest.get("parts", ())],
        "checks": manifest.get("checks", []),
        "as_cut": list(attempt.as_cut),
        "problems": [asdict(place) for place in attempt.places],
        "errors": list(attempt.errors),
    }
