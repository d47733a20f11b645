"""What the page shows, gathered before any of it is laid out."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.checks.model import Finding, Status
from pipeline.report.air_rows import AirWords
from pipeline.report.bench import MeasureTable, SheetRow
from pipeline.report.bill import BillWords
from pipeline.report.casework_words import BoxWords
from pipeline.report.figure_rows import FigureRow
from pipeline.report.forgiving_words import ForgivingWords
from pipeline.report.light_rows import LightRow
from pipeline.report.model_view import ModelView
from pipeline.report.photograph_words import PhotographWords
from pipeline.report.plan_model import PlanWords
from pipeline.report.wiring_rows import WiringWords

RANK: dict[Status, int] = {"pass": 0, "warn": 1, "fail": 2}
"""The gravest answer of a check stands for the check."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure of the relief: what, how much with its unit, and what it means at the bench."""

    name: str
    value: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A picture with its caption and, for those who do not see it, what it shows; ``file`` is its relative path."""

    file: str
    png: bytes
    caption: str
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeRow:
    """One edge of a panel: mm and degrees; ranges are (least, greatest)."""

    length: float
    against: str
    angle_deg: tuple[float, float] | None
    bevel_deg: tuple[float, float]
    gap: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """A part of the list.

    Attributes
    ----------
    id, made_as, material
        As in the manifest; ``material`` with its thickness.
    size
        mm, two or three numbers.
    amount
        Area or volume with its unit.
    files
        Relative paths.
    thumbnail
        A small SVG of our own making, or nothing.
    walls
        Picture of a print's walls as a PNG file, or nothing.
    edges
        Of a panel.
    notes
        What is to be known at the bench, such as thinned guides.
    order
        Number in the order of work, from 1.
    stock
        The sheet's name in the scene, nothing for prints.
    lies
        Sheets it lies on, each with its number there.
    alike
        What parts have in common that are one and the same on the bench; nothing where none is.
    """

    id: str
    made_as: str
    material: str
    size: tuple[float, ...]
    amount: str
    files: tuple[str, ...]
    thumbnail: str = ""
    walls: bytes = b""
    edges: tuple[EdgeRow, ...] = ()
    notes: tuple[str, ...] = ()
    order: int = 0
    stock: str = ""
    lies: tuple[tuple[str, int], ...] = ()
    alike: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutLine:
    """Parts that are alike: the first of them, their ids, numbers in the order of work, places on sheets, and notes."""

    first: PartRow
    parts: tuple[str, ...]
    orders: str
    cut_from: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CutGroup:
    """Parts of one stock: what it is, how it is cut and from what, and how many parts there are."""

    material: str
    work: str
    lines: tuple[CutLine, ...]
    count: int
    printed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRow:
    """A check with all it found."""

    id: str
    title: str
    rationale: str
    findings: tuple[Finding, ...]

    @property
    def gravest_first(self) -> tuple[Finding, ...]:
        """What it found, failures before warnings before passes."""
        return tuple(sorted(self.findings, key=lambda finding: -RANK[finding.status]))

    @property
    def grave(self) -> int:
        """How grave its gravest answer is."""
        return RANK[self.status]

    @property
    def status(self) -> Status:
        """The gravest of its answers; a pass where it had nothing to look at."""
        return max((finding.status for finding in self.findings), key=RANK.__getitem__, default="pass")


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A fact of the scene: about what, and what."""

    subject: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReportData:
    """Everything the page shows.

    Attributes
    ----------
    title
        Of the scene.
    summary
        One sentence on what was made.
    figures
        Of the relief.
    shots
        Three pictures: the built room from the eye, the imagined one, the built one from beside the eye.
    plan, section
        SVG files of our own making.
    forgives
        What the eye forgives.
    parts
        In the order of work.
    cut_list
        The same by what they are made of.
    checks
        In the order they are told.
    notes
        Facts, thinned guides and the like.
    processes
        What the parts are made with: ``hand``, ``knife``, ``laser``, ``resin``, ``filament``. Cautions hang on it.
    materials
        Names of the sheets as the scene gives them.
    sheets, sheet_notes
        Filled sheets of stock, and what is to be said of them.
    lights
        Lamps and beams of the scene.
    standing
        Figures of the scene.
    casework
        The box itself, where it is to be made.
    camera
        How to photograph it, for a scene with a camera.
    air
        How far to lighten each depth, for a scene with air.
    model
        The built box to be walked round; nothing where a page cannot hold it.
    wiring
        What to wire, for a scene that asks for it.
    bill, work
        What it all takes, and in which order it is made.
    words
        What all that is used is made of, and kinds of it: ``foam``, ``epoxy``. Cautions hang on them too.
    measures, ruler
        Of every panel for a ruler, and what it is read to, mm.
    """

    title: str
    summary: str
    figures: tuple[Figure, ...]
    shots: tuple[Shot, ...]
    plan: bytes
    section: bytes
    forgives: ForgivingWords
    parts: tuple[PartRow, ...]
    checks: tuple[CheckRow, ...]
    notes: tuple[Note, ...]
    processes: frozenset[str]
    materials: tuple[str, ...]
    sheets: tuple[SheetRow, ...] = ()
    sheet_notes: tuple[str, ...] = ()
    measures: tuple[MeasureTable, ...] = ()
    ruler: float = 0.5
    standing: tuple[FigureRow, ...] = ()
    lights: tuple[LightRow, ...] = ()
    casework: BoxWords | None = None
    camera: PhotographWords | None = None
    air: AirWords | None = None
    model: ModelView | None = None
    cut_list: tuple[CutGroup, ...] = ()
    bill: BillWords | None = None
    wiring: WiringWords | None = None
    work: PlanWords | None = None
    words: frozenset[str] = frozenset()
