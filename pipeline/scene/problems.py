"""Problems of a scene file, each at its place."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.elements.problems import Problem, SceneError
from pipeline.scene.values import show_path, visible


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedProblem:
    """A problem and where it is.

    Attributes
    ----------
    line, column
        Counted from 1, the column in characters; no column where only the line is known.
    setting
        The ``--set`` argument that brought the value in, and then line and column mean nothing; else empty.
    """

    problem: Problem
    line: int
    column: int | None
    setting: str = ""

    def say(self, file_name: str) -> str:
        """Return the message, ``file:line:column: key.path: what is wrong; allowed: .... What to do.`` in form."""
        place = f"{file_name}:{self.line}" + ("" if self.column is None else f":{self.column}")
        parts = [f"--set {self.setting}" if self.setting else place]
        if self.problem.path:
            parts.append(show_path(self.problem.path))
        text = self.problem.found
        if self.problem.allowed:
            text += f"; allowed: {self.problem.allowed}"
        text += f". {self.problem.remedy[:1].upper()}{self.problem.remedy[1:]}"
        return visible(": ".join([*parts, text if text.endswith((".", "?")) else text + "."]))


class SceneFileError(SceneError):
    """A scene file that cannot be read: all its problems, each at its place."""

    def __init__(self, placed: list[PlacedProblem]) -> None:
        super().__init__([item.problem for item in placed])
        self.placed = tuple(placed)

    def describe(self, file_name: str) -> list[str]:
        """Return one message for each problem, in the order of the file."""
        return [item.say(file_name) for item in self.placed]


def refuse(line: int, column: int | None, found: str, allowed: str, remedy: str) -> SceneFileError:
    """Return the error of a file that cannot be read beyond one place."""
    problem = Problem(path=(), found=found, allowed=allowed, remedy=remedy)
    return SceneFileError([PlacedProblem(problem=problem, line=line, column=column)])
