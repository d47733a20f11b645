"""What is done before anything is glued in: measuring, cutting, printing, bending, trying, coating and painting."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from pipeline.checks.clashes import layers
from pipeline.checks.evidence import Evidence
from pipeline.parts.model import Panel
from pipeline.report.drying import dry_words
from pipeline.report.plan_model import Phase, Step
from pipeline.report.quantities import MM3_PER_CM3, Quantities
from pipeline.scene.made_of import MadeOf
from pipeline.sheets.stock import Filled
from pipeline.stages.hand_work import HandWork

BEVELLED = 0.5
"""Degrees; an edge nearer to square is cut square."""
DUSTY = ("wood",)
FOAMY = ("foam",)
OVEN = "heat-cured clay"


def before(evidence: Evidence) -> Phase:
    """Return what is measured before the first cut."""
    scene = evidence.scene
    boards = list(dict.fromkeys(board.material for board in evidence.boards_cut if board.material))
    used = dict.fromkeys([*(part.material for part in evidence.cut_parts), *boards])
    sheets = ", ".join(f"{name} {scene.materials[name].thickness:g} mm" for name in used)
    width, height, depth = (getattr(scene.box, key) for key in ("width", "height", "depth"))
    steps = [
        Step(
            text=f"Measure every sheet with a caliper, or ten in a pile with a ruler: {sheets}. "
            f"Where one differs, write its thickness into the scene "
            "and build again."
        )
    ]
    if evidence.casework is not None:
        steps.append(_box(evidence, boards))
    steps.append(
        Step(
            text=f"Measure the inside of the box: {width:g} x {height:g} x {depth:g} mm, and both diagonals of its "
            "opening. A box that is not square goes into [box.measured]."
        )
    )
    steps.append(
        Step(text="Print templates.pdf at 100 % and measure its bars on both axes: 100 mm, else nothing will fit.")
    )
    return Phase(heading="Before the first cut", steps=tuple(steps))


def _box(evidence: Evidence, boards: list[str]) -> Step:
    """Return how there comes to be a box, its boards' ``boards`` being sheets of these materials."""
    if not evidence.boards_cut:
        return Step(text="Take the lid of the box, which is made once, with the scene in the box.")
    first = f"Cut the box's boards from their sheets of {' and '.join(boards)}, make" if boards else "Make"
    return Step(text=f"{first} the box as its own section tells, and try the lid.", cautions=("Wood dust",))


def cutting(evidence: Evidence, made: MadeOf, found: Quantities) -> Phase:
    """Return the cutting, sheet by sheet, and the edges."""
    steps = [_sheet(evidence, sheet) for sheet in evidence.sheets]
    bevels = [panel for panel in evidence.panels if _bevel(panel) > BEVELLED]
    if bevels:
        most = max(map(_bevel, bevels))
        steps.append(
            Step(
                text=f"Bevel the mitred edges of {_panels(len(bevels))} as the list of edges gives, up to {most:.0f} "
                "degrees, visible face up. Try one on a scrap.",
                cautions=("Blades",),
            )
        )
    kinds = {one.kind for panel in evidence.panels for one in panel.additions}
    if "tab" in kinds or "lug" in kinds:
        steps.append(Step(text="Try every tab in its slot; pare the visible arris at its tip where the cut list says."))
    if "flap" in kinds or evidence.nets:
        steps.append(
            Step(text="Score flaps and folds, and fold them by the angles of the cut list.", cautions=("Blades",))
        )
    stock = {*(part.material for part in evidence.cut_parts), *(sheet.stock.name for sheet in evidence.sheets)}
    processes = {evidence.scene.materials[name].process for name in stock}
    cautions = [name for key, name in (("knife", "Drag knife"), ("laser", "Laser")) if key in processes]
    words = {word for name in stock for word in made.sheet(name).words}
    cautions += ["Blades"] if processes & {"hand", "knife"} else []
    cautions += ["Foam"] if words & set(FOAMY) else []
    cautions += ["Dust"] if words & set(DUSTY) else []
    return Phase(
        heading="Cut the sheets",
        lead="Inside before outside, small before large; write each part's name on its hidden face.",
        steps=tuple(steps),
        cautions=tuple(cautions),
        hours=_hours(found, ("cut",)),
    )


def _sheet(evidence: Evidence, sheet: Filled) -> Step:
    file, material, number, count = sheet.file, sheet.stock.name, sheet.number, len(sheet.placed)
    process = evidence.scene.materials[material].process
    how = {"hand": "by hand, after templates.pdf", "knife": f"by knife, {file}.dxf", "laser": f"by laser, {file}.dxf"}
    return Step(text=f"Cut sheet {number} of {material} {how[process]}: {count} part{'' if count == 1 else 's'}.")


def _bevel(panel: Panel) -> float:
    return max((max(map(abs, edge.bevel_deg)) for edge in panel.edges), default=0.0)


def printing(evidence: Evidence, found: Quantities) -> Phase | None:
    """Return the printing, or nothing without a print."""
    if not evidence.prints:
        return None
    printer = evidence.scene.make.printer
    volume = sum(part.volume for part in evidence.prints) / MM3_PER_CM3
    steps = [
        Step(
            text=f"Print {len(evidence.prints)} parts, {volume:.1f} cm3, the smallest first: prints.3mf, or one by one "
            "from prints/."
        )
    ]
    if printer.process == "resin":
        steps.append(Step(text="Wash the prints, let every hollow run empty, dry them, and cure them all round."))
    steps.append(
        Step(
            text="Take the supports off and sand their marks, seen faces first; break edges where the checks say so.",
            cautions=("Dust",),
        )
    )
    if any(part.drains for part in evidence.prints):
        steps.append(Step(text="Plug drain holes that would be seen.", cautions=("Glue and putty",)))
    cut = [whole for whole in evidence.whole_prints if len(whole) > 1]
    if cut:
        names = ", ".join(f"{whole[0].solid.id} of {len(whole)}" for whole in cut)
        steps.append(Step(text=f"Join the pieces of prints that were cut for the bed, on their pegs: {names}."))
    return Phase(
        heading="Print",
        steps=tuple(steps),
        cautions=({"resin": "Resin", "filament": "Filament"}[printer.process],),
        hours=_hours(found, ("clean",)),
    )


def forming(evidence: Evidence, found: Quantities) -> Phase | None:
    """Return bending and laminating, or nothing where nothing is bent or laminated."""
    steps = []
    if evidence.bents:
        tightest = min(bent.radius for bent in evidence.bents)
        steps.append(
            Step(
                text=f"Bend {_panels(len(evidence.bents))} along the folds, from the crown out, round a rod; the "
                f"tightest comes to a radius of {tightest:.1f} mm. Leave them taped round a former overnight.",
            )
        )
    ribs = evidence.imagined.laminations
    if ribs:
        steps.append(
            Step(
                text=f"Lay the slices of {len(ribs)} laminated ribs together dry, front to back; glue up on the bench "
                "what then still goes in as one, under a flat weight."
            )
        )
    if not steps:
        return None
    return Phase(heading="Bend and laminate", steps=tuple(steps), hours=_hours(found, ("bend",)))


def trying(evidence: Evidence) -> Phase:
    """Return the dry fit."""
    x, y, z = evidence.room.relief.eye
    steps = (
        Step(
            text="Put all parts in without glue, in the order of gluing in, each as told there; ease what binds, and "
            "number every part on its hidden face."
        ),
        Step(
            text=f"Look with one eye from {-y:g} mm before the opening, {z:g} mm above the box's bottom"
            f"{f' and {x:g} mm right of its middle' if x else ''}: lines run on over every joint, no gap shows light."
        ),
        Step(text="Take everything out again, the last part first."),
    )
    return Phase(heading="Fit it dry", steps=steps)


def coating(evidence: Evidence, made: MadeOf, found: Quantities) -> Phase | None:
    """Return coats, guides drawn again and units made by hand, or nothing where there are neither."""
    steps = [*_coats(found.by_hand, made), *_units(evidence, found.by_hand, made)]
    if not steps:
        return None
    return Phase(
        heading="Coat, draw and sculpt",
        lead="Flat on the bench, before anything is glued in.",
        steps=tuple(steps),
        cautions=_coat_cautions(evidence, made, found.by_hand),
        hours=_hours(found, ("coat", "guides", "units")),
    )


def _coat_cautions(evidence: Evidence, made: MadeOf, works: tuple[HandWork, ...]) -> tuple[str, ...]:
    stuffs = [stuff for part in evidence.cut_parts for stuff in layers(evidence, made, part)]
    words = {word for stuff in stuffs for word in stuff.kinds}
    asked = {"epoxy": "Epoxy", "heat-cured clay": "Oven"}
    laid = any(work.finish or work.units for work in works)
    return (*(("Dust", "Glue and putty") if laid else ()), *(asked[word] for word in asked if word in words))


def _coats(works: Iterable[HandWork], made: MadeOf) -> Iterator[Step]:
    groups: dict[tuple[str, float], list[HandWork]] = {}
    for work in works:
        if work.finish > 0:
            stuff = made.coat(work.material) if work.coat > 0 else made.units(work.cover or "", work.material)
            groups.setdefault(("" if stuff is None else stuff.name, work.finish), []).append(work)
    for (name, finish), own in groups.items():
        stuff = made.named(name) if name else None
        seal = "Seal or key the sheet, then lay" if any(not made.sheet(one.material).sealed for one in own) else "Lay"
        yield Step(
            text=f"{seal} {finish:g} mm of {name or 'the finish'} on {_named(own)}, and level it: the coat's face is "
            "what the drawings show.",
            waits="see the maker's data sheet" if stuff is None else dry_words(made, stuff),
            dries=0.0 if stuff is None else stuff.dries or 0.0,
        )
        if stuff is not None and OVEN in stuff.kinds:
            yield Step(
                text=f"Cure it in the oven, flat, as its maker tells, and let it cool there: {_named(own)}. "
                "Nothing that is printed, painted or glued goes in with it.",
                cautions=("Oven",),
            )
        if any(one.cover for one in own):
            yield Step(
                text="Draw the guides again on it: they are for the finished surface, and the coat has covered those "
                "on the sheet. Prick through from templates.pdf, or measure from measures.csv."
            )


def _units(evidence: Evidence, works: tuple[HandWork, ...], made: MadeOf) -> Iterator[Step]:
    for cover in dict.fromkeys(work.cover for work in works if work.whole + work.cut):
        own = [work for work in works if work.cover == cover]
        whole, cut = sum(work.whole for work in own), sum(work.cut for work in own)
        table = evidence.scene.covers[cover or ""]
        if table.relief > 0:
            stuff = made.units(cover or "", own[0].material)
            volume = sum(work.units for work in own) / MM3_PER_CM3
            what = f"Lay up the {cover} by hand in {'putty' if stuff is None else stuff.name}, {volume:.1f} cm3"
            waits, dries = ("", 0.0) if stuff is None else (dry_words(made, stuff), stuff.dries or 0.0)
            if stuff is not None and OVEN in stuff.kinds:
                waits = "cured in the oven as its maker tells"
        else:
            what, waits, dries = f"Score or sculpt the {cover} along the guides", "", 0.0
        yield Step(
            text=f"{what}: {whole:,} whole and {cut:,} cut on {_panels(len(own))}. The far ones may stay drawn.",
            waits=waits,
            dries=dries,
            cautions=("Dust",),
        )


def painting(evidence: Evidence, made: MadeOf, found: Quantities) -> Phase:
    """Return what is painted before it is glued in."""
    bare, dries = "Keep the edges and places that are glued bare, or mask them.", made.paint.dries or 0.0
    steps = [
        Step(
            text=f"Prime and paint the sheets with {made.paint.name}, hidden faces too where card would warp. {bare}",
            waits=dry_words(made, made.paint),
            dries=dries,
        )
    ]
    if evidence.prints:
        steps.append(
            Step(
                text=f"Prime and paint the prints. {bare}",
                waits=dry_words(made, made.paint),
                dries=dries,
                cautions=("Dust",),
            )
        )
    haze = evidence.scene.air is not None
    steps.append(
        Step(
            text="Glaze with thin washes: dark into the joints, and lighter toward the back"
            f"{', as the table of haze gives' if haze else ''}. Corners that meet are matched side by side.",
            waits=dry_words(made, made.paint),
            dries=dries,
        )
    )
    solvent = "solvent" in made.paint.kinds
    return Phase(
        heading="Paint what will be out of reach",
        steps=tuple(steps),
        cautions=("Solvents",) if solvent else (),
        hours=_hours(found, ("paint",)),
    )


def _named(works: list[HandWork]) -> str:
    return ", ".join(work.part for work in works)


def _panels(count: int) -> str:
    return f"{count} panel{'' if count == 1 else 's'}"


def _hours(found: Quantities, keys: tuple[str, ...]) -> float | None:
    hours = [found.efforts[key].hours for key in keys if key in found.efforts]
    known = [hour for hour in hours if hour is not None]
    return sum(known) if known else None
