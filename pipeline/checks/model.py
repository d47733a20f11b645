"""What a check says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Status = Literal["pass", "warn", "fail"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One answer of a check.

    Attributes
    ----------
    id
        Permanent id of the check.
    part
        Part id, or nothing for the whole scene.
    status
        ``fail``: cannot be made, or is wrong. ``warn``: a rule of thumb.
    value, limit, unit
        The figure measured and the one it is held against.
    message
        What was found, and what to do where it is not a pass.
    """

    id: str
    part: str
    status: Status
    value: float | None
    limit: float | None
    unit: str
    message: str
