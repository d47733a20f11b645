"""The bill of materials: as the page shows it, as a file for a spreadsheet, and for programs."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import Any

from pipeline.report.efforts import MM2_PER_CM2, Effort
from pipeline.report.quantities import MM3_PER_CM3, Amount, Quantities
from pipeline.stages.hand_work import HandWork

HEADINGS = (
    "what",
    "name",
    "made of",
    "parts",
    "area (cm2)",
    "volume (cm3)",
    "sheets",
    "offcuts",
    "density (g/cm3)",
    "mass (g)",
    "cost",
    "note",
)
FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of a formula."""
CALLED = {
    "sheet": "Sheet",
    "board": "Boards",
    "print": "Prints",
    "coat": "Coat",
    "units": "Units by hand",
    "filler": "Filler",
    "glue": "Glue",
    "paint": "Paint",
    "fittings": "Fittings",
}
CM2, CM3 = "cm\N{SUPERSCRIPT TWO}", "cm\N{SUPERSCRIPT THREE}"


@dataclass(frozen=True, slots=True, kw_only=True)
class BillRow:
    """A line of the bill as it is read."""

    what: str
    name: str
    amount: str
    mass: str
    cost: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HandRow:
    """Units of one panel as they are read."""

    cover: str
    part: str
    whole: int
    cut: int
    area: str
    volume: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BillWords:
    """The bill as the page shows it.

    Attributes
    ----------
    rows, mass, cost
        Its lines and their sums; no cost where nothing has a price.
    by_hand, units
        Units of each panel, and of each cover in all.
    efforts, hours
        Kind of work, how much of it, and how long at which rate; no hours where no rate is given.
    common
        Whether any density is a common figure that the scene does not give.
    """

    rows: tuple[BillRow, ...]
    mass: str
    cost: str
    by_hand: tuple[HandRow, ...]
    units: tuple[tuple[str, str, str], ...]
    efforts: tuple[tuple[str, str, str], ...]
    hours: str
    common: bool


def bill_words(found: Quantities) -> BillWords:
    """Return the bill as the page shows it."""
    return BillWords(
        rows=tuple(_row(amount, found.currency) for amount in found.amounts),
        mass=f"{found.mass:.0f} g",
        cost="" if found.cost is None else _money(found.cost, found.currency),
        by_hand=tuple(_hand_row(work) for work in found.by_hand if work.whole + work.cut),
        units=_by_cover(found.by_hand),
        efforts=tuple((one.name, _much(one), _hours(one.hours)) for one in found.efforts.values()),
        hours=_hours(found.hours),
        common=any(amount.mass is not None and not amount.given for amount in found.amounts),
    )


def bill_csv(found: Quantities) -> bytes:
    """Return the bill as a table for a spreadsheet; nothing in it can be taken for a formula."""
    buffer = io.StringIO(newline="")
    table = csv.writer(buffer, lineterminator="\n")
    money = f"cost ({found.currency})" if found.currency else "cost"
    table.writerow([_plain(money if heading == "cost" else heading) for heading in HEADINGS])
    for amount in found.amounts:
        cells = [
            CALLED[amount.kind],
            amount.name,
            amount.of,
            str(amount.parts or ""),
            _number(amount.area, MM2_PER_CM2),
            _number(amount.volume, MM3_PER_CM3),
            str(amount.sheets or ""),
            str(amount.offcuts or ""),
            "" if amount.density is None else f"{amount.density:g}",
            _number(amount.mass, 1.0),
            _number(amount.cost, 1.0),
            amount.note,
        ]
        table.writerow(list(map(_plain, cells)))
    return buffer.getvalue().encode()


def bill_entries(found: Quantities) -> dict[str, Any]:
    """Return the manifest's entries: ``materials``, and ``by_hand``; mm^2, mm^3, g."""
    return {
        "materials": [_entry(amount) for amount in found.amounts],
        "by_hand": [
            {
                "part": work.part,
                "cover": work.cover,
                "whole": work.whole,
                "cut": work.cut,
                "area": round(work.units_area, 3),
                "finish": work.finish,
                "coat_volume": round(work.coat, 3),
                "units_volume": round(work.units, 3),
            }
            for work in found.by_hand
        ],
    }


def _entry(amount: Amount) -> dict[str, Any]:
    def rounded(value: float | None) -> float | None:
        return None if value is None else round(value, 3)

    return {
        "kind": amount.kind,
        "name": amount.name,
        "of": amount.of or None,
        "parts": amount.parts,
        "area": rounded(amount.area),
        "volume": rounded(amount.volume),
        "sheets": amount.sheets,
        "offcuts": amount.offcuts,
        "density": amount.density,
        "mass": rounded(amount.mass),
        "cost": rounded(amount.cost),
    }


def _row(amount: Amount, currency: str) -> BillRow:
    pieces = []
    if amount.kind == "sheet":
        pieces.append(_counted(amount.sheets, "sheet"))
        pieces += [_counted(amount.offcuts, "offcut")] if amount.offcuts else []
        pieces.append(f"{_counted(amount.parts, 'part')}, {_number(amount.area, MM2_PER_CM2, 0)} {CM2}")
    elif amount.kind == "board":
        pieces.append(f"{_counted(amount.parts, 'board')}, {_number(amount.area, MM2_PER_CM2, 0)} {CM2}")
    elif amount.kind == "print":
        pieces.append(f"{_counted(amount.parts, 'print')}, {_number(amount.volume, MM3_PER_CM3)} {CM3}")
    elif amount.kind == "fittings":
        pieces.append(str(amount.parts))
    elif amount.kind == "paint":
        pieces.append(f"{_number(amount.area, MM2_PER_CM2, 0)} {CM2}")
    elif amount.kind != "glue":
        on = f"on {_counted(amount.parts, 'panel')}, " if amount.parts else ""
        pieces.append(f"{on}{_number(amount.volume, MM3_PER_CM3)} {CM3}")
    of = "" if amount.of in ("", amount.name) else f", {amount.of}"
    density = "" if amount.density is None or amount.mass is None else f"at {amount.density:g} g/{CM3}"
    return BillRow(
        what=CALLED[amount.kind],
        name=f"{amount.name}{of}",
        amount="; ".join(pieces),
        mass="" if amount.mass is None else f"{amount.mass:.1f} g",
        cost="" if amount.cost is None else _money(amount.cost, currency),
        note="; ".join(filter(None, [density, amount.note])),
    )


def _hand_row(work: HandWork) -> HandRow:
    return HandRow(
        cover=work.cover or "",
        part=work.part,
        whole=work.whole,
        cut=work.cut,
        area=f"{work.units_area / MM2_PER_CM2:.1f}",
        volume=f"{work.units / MM3_PER_CM3:.2f}" if work.units else "",
    )


def _by_cover(works: tuple[HandWork, ...]) -> tuple[tuple[str, str, str], ...]:
    covers = dict.fromkeys(work.cover for work in works if work.whole + work.cut)
    out = []
    for cover in covers:
        own = [work for work in works if work.cover == cover]
        whole, cut = sum(work.whole for work in own), sum(work.cut for work in own)
        out.append((cover or "", f"{whole:,}", f"{cut:,}"))
    return tuple(out)


def _much(effort: Effort) -> str:
    amount = f"{effort.amount:.1f}" if effort.unit == "m" else f"{effort.amount:,.0f}"
    rate = "" if effort.rate is None else f" at {effort.rate:g} an hour"
    return f"{amount} {effort.unit}{rate}"


def _hours(hours: float | None) -> str:
    return "" if hours is None else f"{hours:.1f} h"


def _counted(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _money(cost: float, currency: str) -> str:
    return f"{cost:.2f} {currency}".strip()


def _number(value: float | None, unit: float, decimals: int = 2) -> str:
    return "" if value is None else f"{value / unit:.{decimals}f}"


def _plain(cell: str) -> str:
    """Return a cell that no spreadsheet takes for a formula."""
    return f"'{cell}" if cell.startswith(FORMULA) else cell
