"""The table of the camera that photographs the room."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from pipeline.units import Length, Millimetres, Pair, PositiveMillimetres, Table

FNumber = Annotated[float, Field(ge=0.7, le=128)]


class CameraTable(Table):
    """`[camera]`: what photographs the room, and from where, mm."""

    lens: Annotated[float, Length("mm", 1.0, most=1000.0)] = Field(default=50.0, description="Focal length, mm.")
    distance: PositiveMillimetres | None = Field(
        default=None,
        description="From the opening to the lens's entrance pupil, mm; left out, the eye's, where it belongs.",
    )
    height: Millimetres | None = Field(
        default=None, description="Height of the entrance pupil above the inside bottom, mm; left out, the eye's."
    )
    right: Millimetres | None = Field(
        default=None, description="How far right of the box's middle the entrance pupil is, mm; left out, the eye's."
    )
    sensor: Pair = Field(default=(36.0, 24.0), description="Width and height of the sensor or film, mm.")
    apertures: Annotated[tuple[FNumber, ...], Field(strict=False, min_length=1, max_length=40)] = Field(
        default=(2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0), description="f-numbers the lens can be set to."
    )
    blur: Annotated[float, Length("mm", 0.0, above=True, most=1.0)] | None = Field(
        default=None,
        description="Widest blur that passes for a point on the sensor, mm; left out, 0.03 mm for 24 by 36 mm, in"
        " proportion to the sensor's diagonal.",
    )
