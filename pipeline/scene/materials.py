"""The table of a sheet material."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from pipeline.scene.stuff import Density, Price, StuffName
from pipeline.units import Length, NonNegativeMillimetres, Table

MARGIN = 5.0
"""mm kept free along a sheet's edges unless told otherwise."""
Thickness = Annotated[float, Length("mm", 0.0, above=True, most=100.0)]
Side = Annotated[float, Length("mm", 0.0, above=True, most=3100.0)]
"""Of stock: the largest boards sold are 3.05 m long; parts are laid on it millimetre by millimetre."""
Sheet = Annotated[tuple[Side, Side], Field(strict=False)]
Offcut = Annotated[tuple[Side, Side, Annotated[int, Field(ge=1, le=100)]], Field(strict=False)]
"""Width, height and how many there are."""
Kerf = Annotated[float, Length("mm", 0.0, most=10.0)]
Spacing = Annotated[float, Length("mm", 0.0, most=100.0)]
"""Between parts, and along edges: it always leaves something of a sheet of the default size."""


class Material(Table):
    """One of `[materials.NAME]`: a sheet as it lies on the bench, mm."""

    thickness: Thickness = Field(description="Thickness as measured, not as sold, mm.")
    process: Literal["hand", "knife", "laser"] = Field(
        default="hand", description="How it is cut: by hand from paper templates, by a knife plotter or by a laser."
    )
    kerf: Kerf = Field(default=0.0, description="Full width of the cut, mm; half of it goes to each side.")
    sheet: Sheet = Field(default=(420.0, 297.0), description="Width and height of the stock, mm; the default is A3.")
    offcuts: Annotated[tuple[Offcut, ...], Field(strict=False, max_length=50)] = Field(
        default=(),
        description="Smaller pieces of the same stock, used up before a whole sheet is begun: "
        "width and height, mm, and how many, as in [[120, 80, 2]].",
    )
    spacing: Spacing = Field(
        default=2.0, description="Kept between two parts on a sheet, mm; never less than the kerf."
    )
    margin: Spacing = Field(default=MARGIN, description="Kept free along a sheet's edges, mm.")
    grain: bool = Field(
        default=False,
        description="true: the sheet has a grain, along its width; parts are then turned by half turns only.",
    )
    corners: Literal["plain", "tabs", "flaps"] | None = Field(
        default=None, description="What holds corners of this sheet, in place of make.corners."
    )
    min_bend: NonNegativeMillimetres = Field(
        default=0.0, description="Smallest radius it bends to, mm; 0 means that it does not bend."
    )
    bend_factor: Annotated[float, Field(ge=0, le=1)] = Field(
        default=0.5, description="Where the neutral layer lies: 0 at the visible face, 1 at the hidden face."
    )
    of: StuffName | None = Field(
        default=None,
        description="What it is made of, such as polystyrene foam, card or plywood: a name that the program knows, or "
        "one of [stuff]; left out, what its own name tells.",
    )
    density: Density | None = Field(default=None, description="Mass of a volume of it, g/cm3; left out, a common one.")
    price: Price | None = Field(default=None, description="Price of one whole sheet, in work.currency.")
    glue: StuffName | None = Field(default=None, description="What it is glued with; left out, work.glue.")
    coat: StuffName | None = Field(
        default=None, description="What is laid on it where a surface has a finish, such as air-dried clay."
    )
    sealed: bool = Field(default=False, description="Whether it is sealed before anything is laid on it.")

    @property
    def sizes(self) -> tuple[tuple[float, float], ...]:
        """Width and height of the sheet and of every kind of offcut, mm."""
        return (self.sheet, *((width, height) for width, height, _ in self.offcuts))
