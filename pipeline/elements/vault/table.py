"""The table of a vault."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from pipeline.units import NonNegativeMetres, PositiveMetres, Table

Form = Literal["groin", "barrel"]
Profile = Literal["round", "pointed", "segmental"]
Made = Literal["sheet", "print"]


class VaultTable(Table):
    """`[vault]`, over the whole hall, in place of the ceiling."""

    form: Form = Field(description="barrel: one tunnel along the hall; groin: crossed by another over every bay.")
    bays: Annotated[int, Field(ge=1, le=100)] = Field(
        default=1, description="Into how many equal lengths the hall is divided, from the opening to the back wall."
    )
    springing: PositiveMetres = Field(description="Height above the floor from which the vault rises, m.")
    rise: PositiveMetres = Field(description="From springing to crown, m.")
    profile: Profile = Field(
        default="round",
        description="round: a half ellipse; pointed: two arcs, rise at least half the hall's width; segmental: one "
        "arc, rise at most half of it.",
    )
    rib_width: NonNegativeMetres = Field(
        default=0.0,
        description="Width of the ribs, m; 0 leaves them out. Those at the opening and the back wall are halves; one "
        "that comes out thinner than make.printer.min_wall is not printed but marked on the back wall.",
    )
    rib_depth: NonNegativeMetres = Field(default=0.0, description="How far the ribs hang below the webs, m.")
    section: Literal["square", "chamfered", "roll"] = Field(
        default="square", description="Section of the ribs: square, with chamfered edges, or with a roll below."
    )
    ribs: Made = Field(
        default="print",
        description="How the ribs are made: printed, or laminated from slices of sheet, for people without a printer.",
    )
    rib_material: str | None = Field(
        default=None,
        description="Name of a table of [materials] that ribs of sheet are cut from; left out, that of the webs.",
    )
    ridge: bool = Field(default=False, description="true: ribs along the crown of every cell as well.")
    boss: NonNegativeMetres = Field(
        default=0.0, description="Diameter of the boss where ribs meet at the crown, m; 0 leaves it out."
    )
    webs: Made = Field(
        default="sheet", description="How the webs are made: bent from sheet, or printed where no sheet bends so far."
    )
    material: str | None = Field(
        default=None,
        description="Name of a table of [materials] for the webs; may be left out where there is only one.",
    )
    cover: str | None = Field(default=None, description="Name of a table of [covers]; nothing leaves the webs plain.")
