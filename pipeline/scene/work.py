"""The table of what the parts are put together, finished and paid with."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from pipeline.scene.stuff import StuffName
from pipeline.units import NonNegativeMillimetres, Table, Words

Rate = Annotated[float, Field(ge=1e-3, le=1e6)]


class RatesTable(Table):
    """`[work.rates]`: how much of it you do in an hour; what is left out is not reckoned."""

    cut: Rate | None = Field(default=None, description="Metres of outline cut in an hour.")
    guides: Rate | None = Field(default=None, description="Metres of guide lines scored or drawn in an hour.")
    coat: Rate | None = Field(default=None, description="Square centimetres coated with finish in an hour.")
    units: Rate | None = Field(default=None, description="Units (bricks, flags) sculpted by hand in an hour.")
    bend: Rate | None = Field(default=None, description="Panels bent in an hour.")
    clean: Rate | None = Field(default=None, description="Prints cleaned and sanded in an hour.")
    fit: Rate | None = Field(default=None, description="Parts fitted and glued in an hour.")
    paint: Rate | None = Field(default=None, description="Square centimetres painted in an hour.")


class WorkTable(Table):
    """`[work]`: glue, paint, what is filled in, and what all of it takes."""

    currency: Annotated[Words, Field(max_length=12)] = Field(
        default="", description="What prices are given in, such as EUR."
    )
    glue: StuffName = Field(default="PVA glue", description="What joints are glued with where nothing else is said.")
    paint: StuffName = Field(default="acrylic paint", description="What the room is painted with.")
    filler: StuffName | None = Field(
        default=None, description="What the space behind the vault is filled with; left out, it stays empty."
    )
    fill_to: NonNegativeMillimetres | None = Field(
        default=None, description="Height above the box's inside bottom that it is filled to, mm; left out, to the top."
    )
    rates: RatesTable = Field(default=RatesTable(), description="How much of each kind of work is done in an hour.")
