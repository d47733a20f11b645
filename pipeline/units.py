"""Lengths, names and the base of all scene tables: where text becomes numbers, once.

Tables about real things hold millimetres, tables about imagined things hold metres. Any length may be written as a
number in the table's own unit or as a string with its unit.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Context, Decimal
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

MM_PER_UNIT = {"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000), "in": Decimal("25.4"), "ft": Decimal("304.8")}
"""International inch and foot (1959 agreement: exactly 25.4 mm and 304.8 mm)."""

LENGTH_PATTERN = r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)\s*(mm|cm|m|in|ft)\s*"
LENGTH_TEXT = re.compile(LENGTH_PATTERN)
_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+( ?(mm|cm|m|in|ft))?")
_DECIMALS = Context(prec=50)
LONGEST = {"mm": 1e6, "m": 1e5}
"""Longest length of either kind of table, in its unit: beyond it numbers are slips, and sums would lose hundredths."""
SHORTEST = {"mm": 1e-3, "m": 1e-6}
"""Shortest length where zero is refused: a micron. Counts of what is laid side by side stay finite."""
LONGEST_TEXT = 64
"""Characters of a length's text; a longer one is a slip."""


class Table(BaseModel):
    """Base of every table of a scene file: frozen, no unknown keys, no silent conversions."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


@dataclass(frozen=True, slots=True)
class Length:
    """Marks a field as a length: parses it, bounds it, and describes it in the JSON schema.

    Attributes
    ----------
    unit
        What a bare number means: ``"mm"`` or ``"m"``.
    least
        Smallest length allowed, in the unit; nothing allows negative ones.
    above
        Whether ``least`` itself is refused.
    most
        Largest length allowed, in the unit; nothing allows up to ``LONGEST``.
    """

    unit: str
    least: float | None = None
    above: bool = False
    most: float | None = None

    @property
    def wanted(self) -> str:
        """What kind of length this is, in words."""
        if self.least is None:
            return "a length"
        if self.above:
            return "a length above zero" if self.least == 0 else f"a length above {self.least:g} {self.unit}"
        return "a length of zero or more" if self.least == 0 else f"a length of {self.least:g} {self.unit} or more"

    @property
    def form(self) -> str:
        """How to write one."""
        word = {"mm": "millimetres", "m": "metres"}[self.unit]
        return f'Give a number of {word}, or text with a unit: "180 mm", "75 cm", "2.4 m", "3 in", "12 ft".'

    def parse(self, value: Any) -> float:
        """Return the length in the unit.

        Raises
        ------
        PydanticCustomError
            Of type ``"length"``, with ``wanted``, ``allowed`` and ``remedy`` in its context.
        """
        number = parse_length(value, self.unit)
        if number is None or not math.isfinite(number):
            comma = isinstance(value, str) and len(value) <= LONGEST_TEXT and _COMMA.fullmatch(value)
            point = f"Decimals have a point: {_pointed(value)}." if comma else self.form
            raise self._refusal(self.wanted, "", point)
        if self.least is not None and (number < self.least or (self.above and number == self.least)):
            raise self._refusal(self.wanted, "", self.form)
        if number > self._longest or number < -self._longest:
            raise self._refusal("a believable length here", f"up to {self._longest:.12g} {self.unit}", self.form)
        if self.above and self.least == 0 and number < SHORTEST[self.unit]:
            raise self._refusal("a believable length here", f"{SHORTEST[self.unit]:f} {self.unit} or more", self.form)
        return number

    @property
    def _longest(self) -> float:
        return LONGEST[self.unit] if self.most is None else self.most

    def _refusal(self, wanted: str, allowed: str, remedy: str) -> PydanticCustomError:
        context = {"wanted": wanted, "allowed": allowed, "remedy": remedy}
        return PydanticCustomError("length", "not {wanted}. {remedy}", context)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_before_validator_function(self.parse, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        number: dict[str, Any] = {"type": "number", "maximum": self._longest}
        number["exclusiveMinimum" if self.above else "minimum"] = -self._longest if self.least is None else self.least
        return {"anyOf": [number, {"type": "string", "pattern": f"^{LENGTH_PATTERN}$"}]}


def _pointed(text: str) -> str:
    """Return a number with a decimal comma as it is written here; with a unit it stands in quotes."""
    return f'"{text.replace(",", ".")}"' if text[-1].isalpha() else text.replace(",", ".")


def parse_length(value: Any, unit: str) -> float | None:
    """Return a length in ``unit``, or nothing if ``value`` is not one; numbers are in the unit already.

    Converted in decimals, so that "12 ft" is the same number as 3.6576.
    """
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return float(value) if abs(value) < 1e300 else math.inf
    if not isinstance(value, str) or len(value) > LONGEST_TEXT:
        return None
    match = LENGTH_TEXT.fullmatch(value)
    if match is None:
        return None
    exact = _DECIMALS.multiply(_DECIMALS.create_decimal(match[1]), MM_PER_UNIT[match[2]])
    return float(_DECIMALS.divide(exact, MM_PER_UNIT[unit]))


Millimetres = Annotated[float, Length("mm")]
PositiveMillimetres = Annotated[float, Length("mm", 0.0, True)]
NonNegativeMillimetres = Annotated[float, Length("mm", 0.0)]
Metres = Annotated[float, Length("m")]
PositiveMetres = Annotated[float, Length("m", 0.0, True)]
NonNegativeMetres = Annotated[float, Length("m", 0.0)]

Pair = Annotated[tuple[PositiveMillimetres, PositiveMillimetres], Field(strict=False)]
"""Two real lengths written as a TOML array: ``[300, 200]``."""
Triple = Annotated[tuple[PositiveMillimetres, PositiveMillimetres, PositiveMillimetres], Field(strict=False)]
"""Three real lengths written as a TOML array."""
Place = Annotated[tuple[Metres, ...], Field(strict=False, min_length=2, max_length=3)]
"""An imagined place written as a TOML array: ``[x, y]`` or ``[x, y, height]``, metres."""

NAME_PATTERN = r"[A-Za-z][A-Za-z0-9 _-]{0,59}"
"""Names that make safe file names on every system once they are ids."""
Name = Annotated[str, Field(pattern=rf"^{NAME_PATTERN}$")]
"""What people call a thing; files and parts are named after it (`part_id`)."""


WORDS_PATTERN = r"[^\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ufff9-\uffff]*"
"""Words that can be seen: no controls, which XML and terminals do not bear, and none that turn a line round."""
Words = Annotated[str, Field(pattern=rf"^{WORDS_PATTERN}$")]
"""What people write for people, in any script."""


def part_id(name: str) -> str:
    """Return the id made from a name: lower-case ASCII words joined by hyphens, ``"Side arch"`` -> ``"side-arch"``."""
    return "-".join(re.findall(r"[a-z0-9]+", name.lower()))
