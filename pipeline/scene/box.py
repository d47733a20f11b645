"""The tables of the box, the eye and the believed space."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from pipeline.scene.casing import BoxMake
from pipeline.scene.measured import Measured
from pipeline.units import (
    Length,
    Millimetres,
    NonNegativeMillimetres,
    Pair,
    PositiveMetres,
    PositiveMillimetres,
    Table,
)

ScaleNumber = Annotated[float, Field(ge=0.001, le=10000)]
Inside = Annotated[float, Length("mm", 0.0, above=True, most=2000.0)]
"""Of a box: what is wider than two metres is a stage, and its paper alone would be thousands of pages."""
Play = Annotated[float, Length("mm", 0.0, most=100.0)]


class Box(Table):
    """`[box]`: the inside of the real box, mm."""

    width: Inside = Field(description="Inside width of the box, mm.")
    height: Inside = Field(description="Inside height of the box, mm.")
    depth: Inside = Field(description="Inside depth of the box, mm.")
    back_gap: NonNegativeMillimetres = Field(
        default=0.0, description="Kept free behind the back wall, for wires and lamps, mm."
    )
    clearance: Play = Field(default=0.5, description="Play left on each side, above and behind, mm.")
    measured: Measured | None = Field(
        default=None, description="The box as it was measured, where it is not square; panels are then fitted to it."
    )
    part: Literal["box", "lid"] = Field(
        default="box",
        description="Which half the scene is in; lid: width, height, depth and make are still those of the whole box,"
        " and the scene gets the room that the saw leaves in its lid.",
    )
    make: BoxMake | None = Field(default=None, description="How the box itself is made of boards.")

    @property
    def inside_depth(self) -> float:
        """Inside depth of the half that the scene is in, mm."""
        return self.make.room if self.part == "lid" and self.make is not None else self.depth


class Eye(Table):
    """`[eye]`: the point the scene is made for, mm."""

    distance: PositiveMillimetres | None = Field(
        default=None,
        description="From the opening to the eye, mm. Left out where space.depth and a back scale settle it.",
    )
    height: Millimetres = Field(description="Height of the eye above the inside bottom of the box, mm.")
    right: Millimetres = Field(default=0.0, description="How far right of the box's middle the eye stands, mm.")
    box: Pair = Field(
        default=(40.0, 40.0),
        description="Width and height of the region round the eye, mm, from which nothing bare may be seen.",
    )
    parallax: Annotated[float, Field(gt=0, le=600)] = Field(
        default=6.0,
        description="How far, in minutes of arc, what an eye beside its place sees may lie from the imagined room; the"
        " report tells how far it may move until then.",
    )


class Space(Table):
    """`[space]`: what the viewer believes.

    Of ``eye.distance``, ``depth`` and the back scale (``back_scale`` or ``back_width``) exactly two are given.
    """

    scale: ScaleNumber = Field(description="Scale at the opening: 48 means 1:48.")
    depth: PositiveMetres | None = Field(
        default=None,
        description="Apparent depth from the opening to the back wall, m. Left out where eye.distance and a back scale"
        " settle it.",
    )
    width: PositiveMetres | None = Field(
        default=None, description="Imagined width of the hall, m; left out, what box and sheets leave."
    )
    height: PositiveMetres | None = Field(
        default=None, description="Imagined height of the hall, m; left out, what box and sheets leave."
    )
    apron: NonNegativeMillimetres = Field(
        default=0.0, description="Depth of the strip at the front that is built true, mm."
    )
    back_scale: Annotated[float, Field(gt=0, le=1)] | None = Field(
        default=None, description="Size of the built back wall over its imagined size, above 0 and at most 1."
    )
    back_width: PositiveMillimetres | None = Field(
        default=None, description="Instead of back_scale: width of the built back wall, mm."
    )
    built_depth: PositiveMillimetres | None = Field(
        default=None, description="From the opening to the built back wall, mm; left out, the deepest that fits."
    )
