"""The table of what holds the room up inside the box."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from pipeline.units import Table

Number = Annotated[int, Field(ge=0, le=20)]


class SupportsTable(Table):
    """`[supports]`: cut parts under the floor and beside the walls; none by default."""

    stringers: Number = Field(
        default=0, description="How many wedges stand on the box's bottom under the rising floor; 2 or 3 carry it."
    )
    spacers: Number = Field(
        default=0, description="At how many heights strips lie between each side wall and the box's side."
    )
    material: str | None = Field(
        default=None, description="Name of a table of [materials]; may be left out where there is only one."
    )
