"""The whole scene file as one model, composed of the elements' tables."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, WithJsonSchema

from pipeline.elements.arch import ArchTable
from pipeline.elements.column import ColumnTable
from pipeline.elements.covers.table import CoverTable
from pipeline.elements.figure import FigureTable
from pipeline.elements.hall import BackTable, FrameTable, SurfaceTable
from pipeline.elements.light import LightTable
from pipeline.elements.mesh import MeshTable
from pipeline.elements.opening import OpeningTable
from pipeline.elements.spiral_stair import SpiralStairTable
from pipeline.elements.steps import StepsTable
from pipeline.elements.vault.table import VaultTable
from pipeline.scene.air import AirTable
from pipeline.scene.box import Box, Eye, Space
from pipeline.scene.camera import CameraTable
from pipeline.scene.formats import FORMAT
from pipeline.scene.make import Make
from pipeline.scene.materials import Material
from pipeline.scene.stuff import ClashTable, StuffTable
from pipeline.scene.supports import SupportsTable
from pipeline.scene.wiring import WiringTable
from pipeline.scene.work import WorkTable
from pipeline.units import Table, Words

MOST_ELEMENTS = 200
"""Of one kind; far beyond any bench, and few enough for a build to end within a minute."""
MOST_LIGHTS = 50
"""Each falls on every face of the room."""

# Not a literal: that would let `true` and `1.0` pass for 1.
FormatNumber = Annotated[int, Field(ge=FORMAT, le=FORMAT), WithJsonSchema({"type": "integer", "enum": [FORMAT]})]
Many = Field(strict=False, max_length=MOST_ELEMENTS)


class Scene(Table):
    """A scene file of format 1."""

    format: FormatNumber = Field(description="Version of the scene file's format: 1.")
    title: Annotated[Words, Field(max_length=200)] = Field(default="", description="What the scene is called.")
    box: Box = Field(description="Inside of the real box, mm.")
    eye: Eye = Field(description="The point the scene is made for, mm.")
    space: Space = Field(description="What the viewer believes.")
    left: SurfaceTable = Field(default=SurfaceTable(), description="The left wall.")
    right: SurfaceTable = Field(default=SurfaceTable(), description="The right wall.")
    back: BackTable = Field(default=BackTable(), description="The back wall.")
    floor: SurfaceTable = Field(default=SurfaceTable(), description="The floor.")
    ceiling: SurfaceTable = Field(default=SurfaceTable(), description="The ceiling.")
    front: FrameTable = Field(default=FrameTable(), description="The frame in the opening.")
    covers: Annotated[dict[str, CoverTable], Field(max_length=MOST_ELEMENTS)] = Field(
        default={}, description="Patterns that surfaces are covered with, by name."
    )
    openings: Annotated[tuple[OpeningTable, ...], Many] = Field(default=(), description="Holes in the walls.")
    vault: VaultTable | None = Field(default=None, description="The vault over the hall, in place of the ceiling.")
    columns: Annotated[tuple[ColumnTable, ...], Many] = Field(default=(), description="Columns and piers.")
    arches: Annotated[tuple[ArchTable, ...], Many] = Field(default=(), description="Arches across the hall.")
    steps: Annotated[tuple[StepsTable, ...], Many] = Field(
        default=(), description="Flights of steps; the floor behind lies higher or lower."
    )
    spiral_stairs: Annotated[tuple[SpiralStairTable, ...], Many] = Field(
        default=(), description="Stairs that wind round a newel."
    )
    meshes: Annotated[tuple[MeshTable, ...], Many] = Field(default=(), description="Things from mesh files.")
    figures: Annotated[tuple[FigureTable, ...], Many] = Field(default=(), description="People who stand in the hall.")
    lights: Annotated[tuple[LightTable, ...], Field(strict=False, max_length=MOST_LIGHTS)] = Field(
        default=(), description="Lamps, and beams of sun or moon."
    )
    wiring: WiringTable | None = Field(default=None, description="Battery and wire of the lights.")
    air: AirTable | None = Field(default=None, description="The air in the room: haze lightens what is far off.")
    camera: CameraTable | None = Field(default=None, description="What photographs the room.")
    supports: SupportsTable = Field(default=SupportsTable(), description="What holds the room up inside the box.")
    materials: Annotated[dict[str, Material], Field(min_length=1, max_length=MOST_ELEMENTS)] = Field(
        description="Sheets that panels are cut from, by name."
    )
    make: Make = Field(default=Make(), description="How panels and prints are made.")
    work: WorkTable = Field(default=WorkTable(), description="Glue, paint, filler, and what all of it takes.")
    stuff: Annotated[dict[str, StuffTable], Field(max_length=MOST_ELEMENTS)] = Field(
        default={}, description="What things are made of, beside what the program knows, by name."
    )
    clashes: Annotated[tuple[ClashTable, ...], Many] = Field(
        default=(), description="What does not go together, beside what the program knows."
    )
