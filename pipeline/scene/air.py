"""The table of the air that fills the imagined room."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from pipeline.scene.make import Colour
from pipeline.units import Name, PositiveMetres, Table


class AirTable(Table):
    """`[air]`: how haze lightens what is far off."""

    visibility: PositiveMetres = Field(
        description="How far one sees in it, m: there the contrast of things has fallen to the threshold."
    )
    threshold: Annotated[float, Field(gt=0, lt=1)] = Field(
        default=0.05,
        description="Contrast at the visibility, of 1: 0.05 as meteorologists define it (CIE), 0.02 with Koschmieder.",
    )
    start: Literal["opening", "eye"] = Field(
        default="opening",
        description="Where the haze begins: at the opening, so that the front keeps its colours, or at the eye, as far"
        " before it as the scale makes of its distance.",
    )
    haze: Colour = Field(default="#C9D1D6", description="Colour of the air itself, which everything goes toward.")
    paints: Annotated[dict[Name, Colour], Field(min_length=1, max_length=6)] = Field(
        default={"dark": "#4A4038"}, description="Colours of what is painted, by name, as they are at the front."
    )
    steps: Annotated[int, Field(ge=1, le=16)] = Field(
        default=8, description="How many equal steps the imagined depth is divided into."
    )
