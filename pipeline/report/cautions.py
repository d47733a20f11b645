"""Short cautions for the bench. They defer to those who know the material, the machine and the place.

Each stands beside the section in which the work is described. A new one is one entry of ``CAUTIONS``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.report.model import ReportData


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """What to mind.

    Attributes
    ----------
    subject
        One word or two.
    text
        One to three sentences.
    beside
        Id of the section it belongs to; none for work that goes on everywhere. It stands at the page's end where the
        scene has no such section.
    when
        Whether this scene asks for such work.
    """

    subject: str
    text: str
    beside: str = ""
    when: Callable[[ReportData], bool] = lambda report: True


def made_by(process: str) -> Callable[[ReportData], bool]:
    """Return whether something is made with a process."""
    return lambda report: process in report.processes


def made_of(*words: str) -> Callable[[ReportData], bool]:
    """Return whether anything is made of, or glued or painted with, what goes by one of some words."""
    return lambda report: not report.words.isdisjoint(words)


def told_in_work(subject: str) -> Callable[[ReportData], bool]:
    """Return whether a step or a phase of the order of work names a caution by its subject.

    A page without that order tells the caution too, since nothing says that it is not needed.
    """

    def told(report: ReportData) -> bool:
        if report.work is None:
            return True
        beside = [one for phase in report.work.phases for one in phase.cautions]
        beside += [one for phase in report.work.phases for step in phase.steps for one in step.cautions]
        return subject in dict(beside)

    return told


def lit(report: ReportData) -> bool:
    """Return whether there is a lamp to be wired, be it only behind a window."""
    return report.wiring is not None or (report.work is not None and told_in_work("LEDs and wires in a box")(report))


def of_foam(report: ReportData) -> bool:
    """Return whether a material is foam, or says that it is."""
    return made_of("foam")(report) or any("foam" in name.lower() for name in report.materials)


CAUTIONS = (
    Caution(
        subject="Blades",
        text="Cut away from the hand, change a blade before it is blunt, keep it sheathed.",
        beside="parts",
        when=told_in_work("Blades"),
    ),
    Caution(
        subject="Dust",
        text="Sand wet or with extraction, and wear a suitable mask; fine dust of wood, resin and filler harms the "
        "lungs.",
        when=told_in_work("Dust"),
    ),
    Caution(
        subject="Glue and putty",
        text="Air the room and wear suitable gloves; uncured epoxy can sensitise the skin for good (HSE RR079).",
    ),
    Caution(
        subject="Epoxy",
        text="Gloves that suit it, long sleeves and fresh air; sand it only when it is fully cured, wet. Uncured it "
        "sensitises the skin for good (HSE RR079).",
        when=made_of("epoxy"),
    ),
    Caution(
        subject="Solvents",
        text="Fresh air, no flame and no spark, a mask for organic vapours where you spray; lids on at once.",
        when=made_of("solvent"),
    ),
    Caution(
        subject="Cyanoacrylate",
        text="It bonds skin and eyelids in seconds and its fumes sting: goggles, fresh air, and no cotton near a "
        "spill, which it sets smoking.",
        when=made_of("cyanoacrylate", "foam-safe cyanoacrylate"),
    ),
    Caution(
        subject="Oven",
        text="Cure clay by its maker's temperature and time, measured in the oven, with fresh air and never with foam "
        "or filament prints inside: scorched clay gives off harmful fumes.",
        when=made_of("heat-cured clay"),
    ),
    Caution(
        subject="Saws and routers",
        text="Fence, push sticks and guards in place, hands out of the line of the blade, small work held in a jig or "
        "clamped, eyes and ears protected. A glued-up box is sawn with its weight held on both sides of the cut.",
        beside="box",
        when=lambda report: report.casework is not None,
    ),
    Caution(
        subject="Wood dust",
        text="Extraction at the saw and the sander, and a suitable mask: dust of hardwood, plywood and fibreboard "
        "harms the lungs, some of it for good.",
        beside="box",
        when=lambda report: report.casework is not None,
    ),
    Caution(
        subject="Drag knife",
        text="Fix the sheet, keep fingers out of the machine's way, test on an offcut first.",
        beside="sheets",
        when=made_by("knife"),
    ),
    Caution(
        subject="Laser",
        text="Extraction on, never leave it running alone, cut only what the machine's own list allows; never PVC or "
        "vinyl, ABS, HDPE, thick polycarbonate or fibreglass. Polystyrene and polypropylene foam melt and may catch "
        "fire.",
        beside="sheets",
        when=made_by("laser"),
    ),
    Caution(
        subject="Foam",
        text="Hot wires and lasers turn it into irritant fumes, so cut it cold or with extraction. Cyanoacrylate "
        "dissolves polystyrene foam, PVA does not; try every glue and paint on an offcut.",
        beside="sheets",
        when=of_foam,
    ),
    Caution(
        subject="Resin",
        text="Gloves, eye protection and fresh air; cure washings and failed prints before they are thrown away, and "
        "drain closed hollows before curing.",
        beside="prints",
        when=made_by("resin"),
    ),
    Caution(
        subject="Filament",
        text="Mind hot nozzle and bed, and air the room while it prints.",
        beside="prints",
        when=made_by("filament"),
    ),
    Caution(
        subject="LEDs and wires in a box",
        text="Wood and foam burn: a resistor to every LED, a sleeve over every joint, a fuse or a supply that limits "
        "its current, nothing bare that could touch and short the battery. Feel for warmth after half an hour, leave "
        "the back gap open to the air, and take the battery out when the box is put away. Mains is for the licensed.",
        beside="wiring",
        when=lit,
    ),
    Caution(
        subject="Button cells",
        text="Swallowed, they burn the gullet within 2 hours (CPSC 2023). Keep them, new or flat, from every child, "
        "and close their holder so that it takes a tool or two independent actions to open (16 CFR 1263).",
        beside="wiring",
        when=lambda report: report.wiring is not None and report.wiring.button,
    ),
    Caution(
        subject="Metal and resin figures",
        text="File and sand them wet and keep the dust off your hands and food; old metal ones may hold lead.",
        beside="standing",
        when=lambda report: bool(report.standing),
    ),
)
DEFERRING = (
    "These lines are reminders, not instructions. The makers' data sheets, the machine's manual, local rules and, "
    "where the law asks for it, a licensed person come first."
)


def cautions(report: ReportData) -> tuple[Caution, ...]:
    """Return the cautions that fit what this scene asks for; ``DEFERRING`` is to be said after them."""
    return tuple(caution for caution in CAUTIONS if caution.when(report))
