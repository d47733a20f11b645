"""The table of what the lights are wired with."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from pipeline.units import Length, NonNegativeMillimetres, Table, Triple, Words

Insulated = Annotated[float, Length("mm", 0.1, most=6.0)]
Play = Annotated[float, Length("mm", 0.0, most=5.0)]


class WiringTable(Table):
    """`[wiring]`: battery and wire of the lights, mm."""

    battery: Annotated[Words, Field(max_length=40)] | None = Field(
        default=None,
        description="Cell by its IEC name, such as LR6 or CR2032, or a name of your own with size, capacity and volts"
        " beside it. Left out, the wires leave through the back of the box.",
    )
    cells: Annotated[int, Field(ge=1, le=24)] = Field(default=1, description="How many of them in series.")
    size: Triple | None = Field(
        default=None,
        description="Of the whole battery in its holder, [long, wide, high], mm; left out, its cells side by side with"
        " 1 mm of holder round them.",
    )
    capacity: Annotated[float, Field(gt=0, le=1e6)] | None = Field(
        default=None, description="Of one cell, mAh; left out, what is usual for it."
    )
    volts: Annotated[float, Field(gt=0, le=60)] | None = Field(
        default=None, description="Of one cell, V; left out, what is usual for it."
    )
    gauge: Annotated[int, Field(ge=18, le=40)] = Field(default=30, description="American wire gauge of the wire.")
    insulation: Insulated | None = Field(
        default=None,
        description="Diameter of one wire with its insulation, mm; left out, 0.25 mm more than the copper.",
    )
    play: Play = Field(default=0.5, description="What a hole is wider than the wires that go through it, mm.")
    spare: NonNegativeMillimetres = Field(default=40.0, description="Wire left over at either end to solder, mm.")
