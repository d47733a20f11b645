"""The ``[covers.*]`` tables: which pattern, and the sizes of one unit of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from pipeline.units import NAME_PATTERN, NonNegativeMetres, PositiveMetres, Table

Pattern = Literal["running", "stack", "header", "third", "english", "flemish", "flags", "planks", "herringbone"]

FITS = 1e-6
"""m; sizes meant to fit one another may differ by a micron, what is left of a size given in inches."""

SIZES_USED: dict[Pattern, tuple[str, ...]] = {
    "running": ("length", "height"),
    "stack": ("length", "height"),
    "third": ("length", "height"),
    "header": ("width", "height"),
    "english": ("length", "width", "height"),
    "flemish": ("length", "width", "height"),
    "flags": ("length", "width"),
    "planks": ("length", "width"),
    "herringbone": ("length", "width"),
}
"""Which sizes of a unit show in each pattern."""


class CoverTable(Table):
    """A pattern that can be laid on faces; the sizes are those of one unit without its joint.

    The defaults are the work size of a British brick, 215 x 102.5 x 65 mm with 10 mm joints (BS EN 771-1).
    """

    pattern: Pattern = Field(
        default="running",
        description="How the units are laid: running (half lap), stack (no lap), third (laps of a third), header, "
        "english, flemish, flags (rows with broken joints), planks, herringbone (at 45 degrees).",
    )
    length: PositiveMetres = Field(default=0.215, description="Length of a unit, m: stretcher face, flag or plank.")
    height: PositiveMetres = Field(default=0.065, description="Height of a unit, m: of a brick in its course.")
    width: PositiveMetres = Field(
        default=0.1025,
        description="Width of a unit, m: header face of a brick, breadth of a flag or plank. Where headers and "
        "stretchers meet, length + joint must be 2 (width + joint).",
    )
    joint: NonNegativeMetres = Field(
        default=0.010, description="Width of the joints, m; guides run along their middle."
    )
    fit_gauge: bool = Field(
        default=False,
        description="Whether the joints between courses are widened or narrowed so that whole courses fill the face; "
        "otherwise the last course is cut.",
    )
    across: bool = Field(
        default=False, description="Planks only: whether they run across the hall (on walls: upright) instead of along."
    )

    relief: NonNegativeMetres = Field(
        default=0.0,
        description="How far the units stand out of the face, m; above 0 the face is printed, a plate with every unit "
        "raised from it, instead of cut from sheet.",
    )
    relief_as: Literal["print", "guides"] = Field(
        default="print",
        description="Where relief is above 0: print makes the face as a print; guides keeps it a panel with the joints "
        "drawn on, the units then being laid or scored by hand.",
    )
    of: Annotated[str, Field(pattern=rf"^{NAME_PATTERN}$")] | None = Field(
        default=None,
        description="What units laid by hand are made of, such as epoxy putty; left out, the coat of the sheet.",
    )

    @model_validator(mode="after")
    def _check(self) -> Self:
        for name in SIZES_USED[self.pattern]:
            size = getattr(self, name)
            if self.joint >= size:
                found = f"joint {self.joint:g} m is not smaller than the unit's {name}"
                raise _refusal(found, f"less than {size:g} m", f"make joint smaller, or {name} larger")
            if self.relief >= size:
                found = f"relief {self.relief:g} m is not smaller than the unit's {name}"
                raise _refusal(found, f"less than {size:g} m", f"make relief smaller, or {name} larger")
        stretcher, headers = self.length + self.joint, 2 * (self.width + self.joint)
        if self.pattern in ("english", "flemish") and abs(stretcher - headers) > FITS:
            raise _refusal(
                f"length + joint is {stretcher:g} m and 2 (width + joint) is {headers:g} m",
                f"the same for both, so that headers and stretchers meet in {self.pattern} bond",
                f"set width to {(self.length - self.joint) / 2:g} or length to {headers - self.joint:g}",
            )
        if self.relief > 0 and self.joint == 0:
            found = "units without joints cannot stand out one by one"
            raise _refusal(found, "a joint above 0 m, or relief = 0", "give joint, or take relief out")
        if self.fit_gauge and self.pattern == "herringbone":
            found = "herringbone has no courses to fit"
            raise _refusal(found, "fit_gauge with any other pattern", "take fit_gauge out")
        if self.across and self.pattern != "planks":
            raise _refusal(f"across does not turn {self.pattern}", 'across with pattern = "planks"', "take across out")
        return self


def _refusal(found: str, allowed: str, remedy: str) -> PydanticCustomError:
    context = {"found": found, "allowed": allowed, "remedy": remedy}
    return PydanticCustomError("cover", "{found}; allowed: {allowed}. {remedy}", context)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """A cover in imagined mm, as the patterns use it.

    Attributes
    ----------
    length, height, width, joint
        Sizes of a unit and of the joint, imagined mm.
    fit_gauge, across
        As in the table.
    level
        Whether the face lies level (floor or ceiling), where host v runs along the hall; on walls u runs along.
    """

    length: float
    height: float
    width: float
    joint: float
    fit_gauge: bool = False
    across: bool = False
    level: bool = False


def imagine_cover(table: CoverTable, hall_scale: float, *, level: bool) -> Cover:
    """Return the cover's sizes in imagined mm at 1:``hall_scale``."""
    per_metre = 1000.0 / hall_scale
    return Cover(
        length=table.length * per_metre,
        height=table.height * per_metre,
        width=table.width * per_metre,
        joint=table.joint * per_metre,
        fit_gauge=table.fit_gauge,
        across=table.across,
        level=level,
    )
