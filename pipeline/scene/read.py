"""Reading a scene file: text in, a scene or all its problems out; nothing touches the disk."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pydantic import ValidationError

from pipeline.elements.problems import KeyPath, Problem
from pipeline.scene.agreement import disagreements
from pipeline.scene.formats import is_later, later_format
from pipeline.scene.limits import decode, refuse_costly
from pipeline.scene.meant import as_meant
from pipeline.scene.model import Scene
from pipeline.scene.places import locate
from pipeline.scene.problems import PlacedProblem, SceneFileError
from pipeline.scene.settings import Override, apply_settings, origin_of, parse_key, setting_text
from pipeline.scene.syntax import parse
from pipeline.scene.wording import mistyped, word_all


def read_scene(text: str | bytes, overrides: Sequence[Override] = ()) -> Scene:
    """Return the scene a file's text describes.

    Parameters
    ----------
    text
        The file, TOML in UTF-8.
    overrides
        ``(key, value)`` texts put over the file's own values in order, as in ``("columns[2].diameter", "0.4")``;
        numbers count from 1.

    Raises
    ------
    SceneFileError
        With every problem found, each at its line and column.
    """
    source = decode(text)
    refuse_costly(source)
    data, origins, problems = apply_settings(parse(source), list(overrides))
    if is_later(data.get("format")):  # what else it holds may mean anything
        raise SceneFileError(place_problems(source, [later_format(data["format"])], origins))
    found: list[Problem] = []
    slips: dict[KeyPath, KeyPath] = {}
    scene = None
    try:
        scene = Scene.model_validate(data)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        found += word_all(Scene, data, errors)
        slips = mistyped(Scene, data, errors)
    refused = {problem.path for problem in found}
    meant = {problem.path for problem in disagreements(as_meant(data, slips))}  # a slip is told once
    found += [problem for problem in disagreements(data) if problem.path in meant - refused]
    problems += place_problems(source, found, origins)
    if problems or scene is None:
        raise SceneFileError(problems)
    return scene


def place_problems(text: str, problems: Iterable[Problem], origins: dict[KeyPath, str]) -> list[PlacedProblem]:
    """Return each problem at its place, in the order of the file; those of settings first.

    ``origins`` names the setting each overridden key came from.
    """
    placed = []
    for problem in problems:
        line, column = locate(text, problem.path)
        setting = origin_of(origins, problem.path)
        placed.append(PlacedProblem(problem=problem, line=line, column=column, setting=setting))
    return sorted(placed, key=lambda item: (not item.setting, item.line, item.column or 0))


def placed_error(text: str | bytes, problems: Iterable[Problem], overrides: Sequence[Override] = ()) -> SceneFileError:
    """Return problems found in a scene that could be read as the error of its file, each at its place."""
    origins = {parse_key(override[0]): setting_text(override) for override in overrides}
    return SceneFileError(place_problems(decode(text), problems, origins))
