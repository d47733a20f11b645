"""What is wrong with a scene, and which key says so."""

from __future__ import annotations

from dataclasses import dataclass

KeyPath = tuple[str | int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Something wrong with the scene, said so that it can be mended.

    ``path`` names the key, as in ``("openings", 2, "width")``; the reader finds its line and column. ``allowed`` may be
    empty where ``remedy`` tells it; ``remedy``, what to do next, never is.
    """

    path: KeyPath
    found: str
    allowed: str
    remedy: str


class SceneError(Exception):
    """One or more problems of a scene file."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("; ".join(f"{'.'.join(map(str, p.path))}: {p.found}" for p in problems))
        self.problems = problems
