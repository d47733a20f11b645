"""The tables that say how the scene is made."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from pipeline.scene.stuff import Density, Price, StuffName
from pipeline.units import Length, NonNegativeMillimetres, PositiveMillimetres, Table, Triple

Tolerance = Annotated[float, Length("mm", 0.001, most=1.0)]
Play = Annotated[float, Length("mm", 0.0, most=5.0)]
Wall = Annotated[float, Length("mm", 0.0, above=True, most=100.0)]
Hole = Annotated[float, Length("mm", 0.5, most=20.0)]
Corners = Literal["plain", "tabs", "flaps"]
Colour = Annotated[str, Field(pattern=r"^#[0-9A-Fa-f]{6}$")]

DETAIL = {"resin": 0.2, "filament": 0.4}
"""mm; a gap of a few pixels of a resin printer's screen, and one as wide as the usual 0.4 mm nozzle."""


class Colours(Table):
    """`[make.colours]`: colour of each layer of the drawings, as `#rrggbb` (Okabe and Ito's palette, and a grey)."""

    outline: Colour = Field(default="#009E73", description="Outer cuts.")
    holes: Colour = Field(default="#CC79A7", description="Inner cuts.")
    fold: Colour = Field(default="#E69F00", description="Folds, and rulings of bent panels.")
    guide: Colour = Field(default="#56B4E9", description="Lines of the covers, on the visible face.")
    place: Colour = Field(default="#D55E00", description="Where other parts stand.")
    bevel: Colour = Field(default="#0072B2", description="Outline of the hidden face where it differs.")
    notes: Colour = Field(default="#808080", description="Names and measures.")


class Printer(Table):
    """`[make.printer]`: the 3D printer, mm."""

    bed: Triple = Field(default=(180.0, 180.0, 180.0), description="Width, depth and height it can print, mm.")
    min_wall: Wall = Field(default=1.0, description="Thinnest wall of a shell, mm.")
    min_cavity: NonNegativeMillimetres = Field(default=2.0, description="Hollows narrower than this are filled, mm.")
    process: Literal["resin", "filament"] = Field(default="resin", description="What it prints with.")
    drain: Hole = Field(default=2.5, description="Diameter of the holes that let resin out of closed hollows, mm.")
    drains: Annotated[int, Field(ge=0, le=8)] = Field(
        default=2, description="Holes of every closed hollow of a resin print, at its low points; 0 cuts none."
    )
    detail: Wall | None = Field(
        default=None,
        description="Narrowest gap and lowest step it shows, mm; left out: 0.2 for resin, 0.4 for filament.",
    )
    of: StuffName | None = Field(
        default=None,
        description="What prints are made of: a name that the program knows, or one of [stuff]; left out, cured resin "
        "or PLA.",
    )
    density: Density | None = Field(default=None, description="Mass of a volume of it, g/cm3; left out, a common one.")
    price: Price | None = Field(default=None, description="Price of one kilogram of it, in work.currency.")
    glue: StuffName | None = Field(default=None, description="What prints are glued with; left out, work.glue.")

    @property
    def least_detail(self) -> float:
        """Narrowest gap and lowest step the printer shows, mm."""
        return self.detail if self.detail is not None else DETAIL[self.process]


class Make(Table):
    """`[make]`: how panels and prints are made, mm."""

    edges: Literal["bevel", "square"] = Field(
        default="bevel", description="bevel: edges are mitred along the meeting lines; square: all cut square."
    )
    corners: Corners = Field(
        default="plain",
        description="What holds sheets together: plain edges, tabs in slots (rigid sheet), or glue flaps (card).",
    )
    net: bool = Field(
        default=False,
        description="true: the hall's walls, floor and ceiling of one card stay in one piece where they unfold; needs"
        " flaps.",
    )
    flap: PositiveMillimetres = Field(default=6.0, le=50, description="Width of glue flaps, mm.")
    tab: PositiveMillimetres = Field(default=12.0, le=200, description="Length of a tab along its edge, mm.")
    tab_play: Play = Field(default=0.1, description="What a slot is wider and longer than its tab, mm; kerf aside.")
    joint: Literal["line", "butt"] = Field(
        default="line",
        description="How square edges meet: line ends both sheets on the line where their faces meet; "
        "butt stands one on the other, which runs on beneath it, and leaves a gap over 90 degrees.",
    )
    fillets: bool | None = Field(
        default=None,
        description="true: cut strips of sheet that fill the wedges behind joints of square edges; left out, only "
        "behind a front frame, past whose inner edge the eye would else see through them.",
    )
    max_gap: NonNegativeMillimetres = Field(
        default=0.3, description="Widest gap that a joint may show without a warning, mm."
    )
    paper: Literal["A4", "A3", "Letter"] = Field(default="A4", description="Paper of the printed templates.")
    ruler: Annotated[float, Length("mm", 0.01, most=5.0)] = Field(
        default=0.5, description="What your ruler is read to; the measurement sheet is rounded to it, mm."
    )
    mesh_tolerance: Tolerance = Field(default=0.02, description="Curved surfaces to the facets of prints, mm.")
    curve_tolerance: Tolerance = Field(default=0.02, description="Exact curves to the arcs of drawings, mm.")
    bend_tolerance: Tolerance = Field(
        default=0.1, description="How far a sheet bent along its folds alone may lie from the curved web, mm."
    )
    curves: Literal["arcs", "splines"] = Field(
        default="arcs", description="How DXF files hold curves: fitted arcs, or exact rational splines."
    )
    dxf: Literal["R2010", "R12"] = Field(
        default="R2010", description="Version of the DXF files; R12 for old machines, without splines and units."
    )
    bridges: Annotated[float, Length("mm", 0.0, most=5.0)] = Field(
        default=0.0, description="Width of the gaps that hold parts in their sheet until cut free, mm; 0 leaves none."
    )
    bridge_count: Annotated[int, Field(ge=1, le=8)] = Field(
        default=2, description="Bridges of every outline, on its longest straight edges against other parts."
    )
    fit: Play = Field(default=0.15, description="Play between prints and panels, mm.")
    min_guide: NonNegativeMillimetres = Field(
        default=0.4, description="Guides that come closer than this are thinned, mm as built; 0 keeps them all."
    )
    stencils: bool = Field(
        default=False,
        description="true: cut a stencil for the airbrush for every patch of light and every shadow on a panel.",
    )
    stencil_material: str | None = Field(
        default=None,
        description="Name of a table of [materials] that stencils are cut from; left out, they are on paper alone.",
    )
    colours: Colours = Field(default=Colours(), description="Colours of the drawings' layers.")
    printer: Printer = Field(default=Printer(), description="The 3D printer.")
