"""What is said of a scene that cannot be made."""

from __future__ import annotations

import pytest

from pipeline.build import make
from pipeline.scene.problems import SceneFileError


def refusals(text: str) -> list[str]:
    """Return one message for each problem that reading, shaping or writing the scene finds, of ``room.toml``."""
    with pytest.raises(SceneFileError) as caught:
        make(text.encode())
    return caught.value.describe("room.toml")


def refusal(text: str) -> str:
    """Return the same as one text, a line for each problem."""
    return "\n".join(refusals(text))
