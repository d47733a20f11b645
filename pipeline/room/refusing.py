"""A scene refused for one key."""

from __future__ import annotations

from pipeline.elements.problems import KeyPath, Problem, SceneError


def refuse(path: KeyPath, found: str, allowed: str, remedy: str) -> None:
    """Raise a ``SceneError`` of one problem; its fields are those of ``Problem``.

    Raises
    ------
    SceneError
        Always.
    """
    raise SceneError([Problem(path=path, found=found, allowed=allowed, remedy=remedy)])
