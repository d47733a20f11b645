"""Foreshorten: false-perspective rooms for shallow boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.scripting import BuiltScene, InputError, LoadedScene, Part, begin, load, schema

__all__ = ["BuiltScene", "InputError", "LoadedScene", "Part", "begin", "load", "schema"]


def __getattr__(name: str) -> Any:
    """Return what `pipeline.scripting` offers; only now, since the command line starts without it."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from pipeline import scripting

    return getattr(scripting, name)


def __dir__() -> list[str]:
    """Return what a person at a prompt may ask for; the rooms of the package are none of it."""
    return __all__
