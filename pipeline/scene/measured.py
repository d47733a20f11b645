"""The tables of a box as it was measured: no real box is square."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from pipeline.units import PositiveMillimetres, Table

Arrises = Annotated[
    tuple[PositiveMillimetres, PositiveMillimetres, PositiveMillimetres, PositiveMillimetres], Field(strict=False)
]


class Border(Table):
    """`[box.measured.opening]` or `[box.measured.back]`: four inside edges and the diagonals, mm, from the front."""

    bottom: PositiveMillimetres = Field(description="Lower inside edge, mm.")
    right: PositiveMillimetres = Field(description="Right inside edge, mm.")
    top: PositiveMillimetres = Field(description="Upper inside edge, mm.")
    left: PositiveMillimetres = Field(description="Left inside edge, mm.")
    rising: PositiveMillimetres | None = Field(
        default=None, description="Diagonal from the lower left to the upper right corner, mm; one diagonal is needed."
    )
    falling: PositiveMillimetres | None = Field(
        default=None,
        description="Diagonal from the upper left to the lower right corner, mm; with both, slips are found.",
    )


class Measured(Table):
    """`[box.measured]`: the inside of the box as it is, mm."""

    opening: Border = Field(description="At the opening.")
    back: Border = Field(description="At the back, as seen from the front.")
    depths: Arrises | None = Field(
        default=None,
        description="From front to back along the four inside corners: lower left, lower right, upper right, upper"
        " left, mm; left out, the back stands box.depth behind the opening.",
    )
