"""Lengths and the base of all scene tables: where text becomes numbers, once.

Tables about real things hold millimetres, tables about imagined things hold metres. Any length may be written as a
number in the table's own unit or as a string with its unit.
"""

from __future__ import annotations

import math
import re
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""International inch and foot (1959 agreement: exactly 25.4 mm and 304.8 mm)."""

LENGTH_TEXT = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(mm|cm|m|in|ft)\s*")
LENGTH_FORM = 'a number, or text with a unit: "180 mm", "75 cm", "2.4 m", "3 in", "12 ft"'


class Table(BaseModel):
    """Base of every table of a scene file: frozen, no unknown keys, no silent conversions."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


def parse_length(value: Any, mm_per_number: float) -> Any:
    """Return a length in the table's unit (``mm_per_number`` millimetres each).

    Anything that is neither a number nor text is returned untouched for pydantic to refuse.

    Raises
    ------
    ValueError
        If text is not a number followed by a known unit, or not finite.
    """
    if isinstance(value, bool):
        raise ValueError(f"a length is needed: {LENGTH_FORM}")
    if isinstance(value, int):
        value = float(value) if abs(value) < 10**15 else math.inf
    if not isinstance(value, str):
        return value
    match = LENGTH_TEXT.fullmatch(value) if len(value) < 64 else None
    if match is None:
        raise ValueError(f"not a length: {LENGTH_FORM}")
    number = float(match[1]) * MM_PER_UNIT[match[2]] / mm_per_number
    if not math.isfinite(number):
        raise ValueError(f"not a finite length: {LENGTH_FORM}")
    return number


def _millimetres(value: Any) -> Any:
    return parse_length(value, 1.0)


def _metres(value: Any) -> Any:
    return parse_length(value, 1000.0)


_LENGTH_SCHEMA = WithJsonSchema({"type": ["number", "string"]})
_POSITIVE_SCHEMA = WithJsonSchema({"type": ["number", "string"], "exclusiveMinimum": 0})
_NON_NEGATIVE_SCHEMA = WithJsonSchema({"type": ["number", "string"], "minimum": 0})

Millimetres = Annotated[float, BeforeValidator(_millimetres), _LENGTH_SCHEMA]
PositiveMillimetres = Annotated[float, Field(gt=0), BeforeValidator(_millimetres), _POSITIVE_SCHEMA]
NonNegativeMillimetres = Annotated[float, Field(ge=0), BeforeValidator(_millimetres), _NON_NEGATIVE_SCHEMA]
Metres = Annotated[float, BeforeValidator(_metres), _LENGTH_SCHEMA]
PositiveMetres = Annotated[float, Field(gt=0), BeforeValidator(_metres), _POSITIVE_SCHEMA]
NonNegativeMetres = Annotated[float, Field(ge=0), BeforeValidator(_metres), _NON_NEGATIVE_SCHEMA]
