"""The sections of the page, in the order they are read: what a person at the bench needs first stands first.

A new section is one template file under ``templates/`` and one line here. The page makes the heading with its
number, the cautions that belong beside it and its place in the list of contents; the template holds what comes under
the heading.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.report.cautions import Caution, cautions
from pipeline.report.model import ReportData


def always(report: ReportData) -> bool:
    """Show a section of every scene."""
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A section that a page may have.

    Attributes
    ----------
    id
        Its address within the page; other pages and people may point at it, so it stays.
    heading
        As short as it can be.
    template
        File under ``templates/`` with what stands under the heading.
    shown
        Whether this scene has anything for it.
    """

    id: str
    heading: str
    template: str
    shown: Callable[[ReportData], bool] = always


GROUPS: tuple[tuple[str, tuple[Section, ...]], ...] = (
    (
        "The room",
        (
            Section(id="pictures", heading="From the eye", template="pictures.html"),
            Section(id="model", heading="The built box", template="model.html"),
            Section(id="relief", heading="Figures of the relief", template="relief.html"),
            Section(id="drawings", heading="Plan and section", template="drawings.html"),
        ),
    ),
    (
        "Box and parts",
        (
            Section(
                id="box",
                heading="The box itself",
                template="box.html",
                shown=lambda report: report.casework is not None,
            ),
            Section(id="parts", heading="Cut list", template="parts.html"),
            Section(id="sheets", heading="Sheets", template="sheets.html", shown=lambda report: bool(report.sheets)),
            Section(
                id="edges",
                heading="Edges and bevels",
                template="edges.html",
                shown=lambda report: any(part.edges for part in report.parts),
            ),
            Section(
                id="ruler",
                heading="With a ruler only",
                template="measures.html",
                shown=lambda report: bool(report.measures),
            ),
            Section(
                id="prints",
                heading="Prints",
                template="prints.html",
                shown=lambda report: any(group.printed for group in report.cut_list),
            ),
        ),
    ),
    (
        "Putting together",
        (
            Section(
                id="work", heading="Order of work", template="work.html", shown=lambda report: report.work is not None
            ),
            Section(
                id="materials",
                heading="Materials and time",
                template="materials.html",
                shown=lambda report: report.bill is not None,
            ),
        ),
    ),
    (
        "Figures and light",
        (
            Section(
                id="standing",
                heading="Figures in the room",
                template="figures.html",
                shown=lambda report: bool(report.standing),
            ),
            Section(id="lights", heading="Light", template="lights.html", shown=lambda report: bool(report.lights)),
            Section(
                id="wiring",
                heading="Wiring",
                template="wiring.html",
                shown=lambda report: report.wiring is not None,
            ),
            Section(
                id="air",
                heading="How haze lightens",
                template="air.html",
                shown=lambda report: report.air is not None,
            ),
        ),
    ),
    (
        "Looking",
        (
            Section(id="forgives", heading="What the eye forgives", template="forgives.html"),
            Section(
                id="camera",
                heading="Photographing it",
                template="camera.html",
                shown=lambda report: report.camera is not None,
            ),
        ),
    ),
    (
        "Checks and notes",
        (
            Section(id="checks", heading="Checks", template="checks.html"),
            Section(id="notes", heading="Notes", template="notes.html", shown=lambda report: bool(report.notes)),
            Section(id="cautions", heading="Cautions", template="cautions.html"),
        ),
    ),
)
"""Heading of each group and its sections. A group without a section to show is left out, and takes no letter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A section of this page: its number, such as B2, and the cautions beside it."""

    section: Section
    number: str
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Sections under one letter."""

    letter: str
    heading: str
    places: tuple[Placed, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What is on this page, in its order; ``general`` are the cautions that stand beside no section of it."""

    groups: tuple[Group, ...]
    general: tuple[Caution, ...]

    @property
    def beside(self) -> tuple[tuple[Placed, Caution], ...]:
        """Return every caution that stands beside a section, with the section."""
        return tuple((place, caution) for group in self.groups for place in group.places for caution in place.cautions)


def contents_of(report: ReportData) -> Contents:
    """Return the sections this page has, numbered."""
    shown = [
        (heading, sections)
        for heading, some in GROUPS
        if (sections := [section for section in some if section.shown(report)])
    ]
    told = cautions(report)
    ids = {section.id for _, sections in shown for section in sections}
    return Contents(
        groups=tuple(
            Group(
                letter=letter,
                heading=heading,
                places=tuple(
                    Placed(
                        section=section,
                        number=f"{letter}{number}",
                        cautions=tuple(caution for caution in told if caution.beside == section.id),
                    )
                    for number, section in enumerate(sections, start=1)
                ),
            )
            for letter, (heading, sections) in zip("ABCDEFGHIJ", shown, strict=False)
        ),
        general=tuple(caution for caution in told if caution.beside not in ids),
    )
