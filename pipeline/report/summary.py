"""What a build says on the terminal, in a few lines."""

from __future__ import annotations

from collections import Counter

from pipeline.casework.boards import Casework
from pipeline.checks.evidence import Evidence
from pipeline.checks.model import Finding
from pipeline.report.forgiving import Forgiveness
from pipeline.report.forgiving_words import forgiving_line
from pipeline.room.leaning import rake_deg
from pipeline.sheets.stock import Filled


def summarise(stem: str, evidence: Evidence, findings: list[Finding], forgiven: Forgiveness) -> tuple[str, ...]:
    """Return the lines: what was made, what the relief is, which checks passed, and every one that did not."""
    relief, hall = evidence.room.relief, evidence.room.hall
    vanishing = relief.vanishing_depth
    guides, prints = sum(len(panel.guides) for panel in evidence.cut_parts), len(evidence.prints)
    count = Counter(finding.status for finding in findings)
    lines = [
        f"{stem}: {len(evidence.cut_parts)} panels with {guides} guides, {prints} print{'' if prints == 1 else 's'}",
        f"  relief: {hall.metres(relief.apparent_depth):.2f} m apparent ({relief.apparent_depth:.1f} mm at"
        f" 1:{hall.scale:g}) in {relief.built_depth:.1f} mm built; back scale {relief.back_scale:.4f};"
        f" vanishing depth {'none' if vanishing is None else f'{vanishing:.1f} mm'};"
        f" the floor rises {rake_deg(relief, hall):.1f} degrees",
        f"  checks: {count['pass']} passed, {count['warn']} warning{'s' * (count['warn'] != 1)},"
        f" {count['fail']} failed",
    ]
    lines.insert(2, f"  {forgiving_line(forgiven)}")
    lines += [f"  {box_line(evidence.casework)}"] if evidence.casework is not None else []
    lines += [f"  {line}" for line in sheet_lines(evidence.sheets)]
    lines += [f"  note: {note}" for note in evidence.sheet_notes]
    if evidence.imagined.unseen:
        lines.append(f"  left out, as no eye in the eye box sees them: {', '.join(evidence.imagined.unseen)}")
    for panel in evidence.cut_parts:
        if panel.thinned is not None:
            number, depth = panel.thinned
            lines.append(f"  {panel.id}: {number} guides too fine, thinned from {depth:.1f} mm deep on")
    return (*lines, *(_line(finding) for finding in findings if finding.status != "pass"))


def box_line(casework: Casework) -> str:
    """Return how large the box becomes and where its lid is sawn off."""
    shell = casework.shell
    width, height, depth = shell.outside
    return (
        f"box: {len(casework.boards)} boards, {width:g} x {height:g} x {depth:g} mm closed; the lid is sawn off"
        f" {shell.saw_from_outside:.2f} mm from the outside of the back"
    )


def sheet_lines(sheets: tuple[Filled, ...]) -> list[str]:
    """Return for each material how many sheets it takes and how full each is."""
    lines = []
    for name in dict.fromkeys(sheet.stock.name for sheet in sheets):
        own = [sheet for sheet in sheets if sheet.stock.name == name]
        full = ", ".join(f"{100 * sheet.density:.0f} %" for sheet in own)
        used = sum(sheet.used for sheet in own) / 100
        lines.append(f"{name}: {len(own)} sheet{'s' * (len(own) > 1)}, {full} used, {used:.0f} cm2 of parts")
    return lines


def _line(finding: Finding) -> str:
    return f"  {finding.status}: {finding.part or 'scene'}: {finding.message} [{finding.id}]"
