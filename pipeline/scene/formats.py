"""Which version of the scene file's format this program reads."""

from __future__ import annotations

from pipeline.elements.problems import Problem

FORMAT = 1


def is_later(value: object) -> bool:
    """Return whether a file says that it is of a later format."""
    return isinstance(value, int) and not isinstance(value, bool) and value > FORMAT


def later_format(value: int) -> Problem:
    """Return the one problem of such a file; whatever else it holds may be right there."""
    return Problem(
        path=("format",),
        found=f"{value} is a later format than this version of the program reads",
        allowed=str(FORMAT),
        remedy="install a newer version; nothing else of the file was looked at",
    )
