"""Short cautions for the bench. They defer to those who know the material, the machine and the place."""

from __future__ import annotations

ALWAYS = (
    "Blades: cut away from the hand, change a blade before it is blunt, keep it sheathed.",
    "Dust: sand wet or with extraction, and wear a suitable mask; fine dust of wood, resin and filler harms the lungs.",
    "Glue and putty: air the room and wear suitable gloves; uncured epoxy can sensitise the skin for good (HSE RR079).",
)
FOR_PROCESS = {
    "knife": "Drag knife: fix the sheet, keep fingers out of the machine's way, test on an offcut first.",
    "laser": "Laser: extraction on, never leave it running alone, cut only what the machine's own list allows; never "
    "PVC or vinyl, ABS, HDPE, thick polycarbonate or fibreglass. Polystyrene and polypropylene foam melt and may "
    "catch fire.",
    "resin": "Resin: gloves, eye protection and fresh air; cure washings and failed prints before they are thrown "
    "away, and drain closed hollows before curing.",
    "filament": "Filament: mind hot nozzle and bed, and air the room while it prints.",
}
FOAM = (
    "Foam: hot wires and lasers turn it into irritant fumes, so cut it cold or with extraction. Cyanoacrylate "
    "dissolves polystyrene foam, PVA does not; try every glue and paint on an offcut."
)
LAST = (
    "These lines are reminders, not instructions. The makers' data sheets, the machine's manual, local rules and, "
    "where the law asks for it, a licensed person come first."
)


def cautions(processes: frozenset[str], materials: tuple[str, ...]) -> tuple[str, ...]:
    """Return the cautions that fit what the parts are made with and of, the deferring line last."""
    foam = any("foam" in name.lower() for name in materials)
    return (
        *ALWAYS,
        *(words for process, words in FOR_PROCESS.items() if process in processes),
        *((FOAM,) if foam else ()),
        LAST,
    )
