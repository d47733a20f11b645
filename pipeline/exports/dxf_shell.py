"""What stands around the entities of a DXF: header, tables, blocks and objects, R2010 (AC1024).

Written from the published *DXF Reference*: every table with its handle and owner, a block record, a block and a layout
for model and paper space, and the root dictionary with its groups, layouts and plot styles.

Terms
-----
tag
    A group code and its value, two lines of text.
handle
    The hexadecimal number of an object; the shell's own are below ``FIRST_FREE``.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

Tag = tuple[int, object]
Box = tuple[float, float, float, float]

FIRST_FREE = 0x100
"""The first handle for entities."""
MODEL_SPACE, PAPER_SPACE = "30", "40"
MODEL_LAYOUT, PAPER_LAYOUT = "55", "56"
ROOT, GROUPS, LAYOUTS, PLOT_STYLES, NORMAL_STYLE = "50", "51", "52", "53", "54"


def tags(*pairs: Tag) -> str:
    """Return group codes and values as DXF text."""
    return "".join(f"{code:>3}\n{value}\n" for code, value in pairs)


def before_entities(layers: Sequence[tuple[str, int, int]], bounds: Box, next_handle: int) -> str:
    """Return everything up to and including the start of the ENTITIES section.

    Parameters
    ----------
    layers
        Name, AutoCAD colour index and true colour (0xrrggbb) of each.
    bounds
        Least x, least y, greatest x, greatest y of the drawing, mm.
    next_handle
        The first handle not in use.
    """
    return (
        _section("HEADER", _header(bounds, next_handle))
        + _section("CLASSES", "")
        + tags((0, "SECTION"), (2, "TABLES"))
        + _table("VPORT", "1", 1, _view(bounds))
        + _after_view(tuple(layers))
    )


@cache
def after_entities() -> str:
    """Return the end of the ENTITIES section and all that follows."""
    return tags((0, "ENDSEC")) + _section("OBJECTS", _objects()) + tags((0, "EOF"))


def _section(name: str, content: str) -> str:
    return tags((0, "SECTION"), (2, name)) + content + tags((0, "ENDSEC"))


def _point(code: int, x: object, y: object, z: object = None) -> list[Tag]:
    xy: list[Tag] = [(code, x), (code + 10, y)]
    return xy if z is None else [*xy, (code + 20, z)]


def _header(bounds: Box, next_handle: int) -> str:
    x0, y0, x1, y1 = (f"{value:.6f}" for value in bounds)
    variables: dict[str, list[Tag]] = {
        "$ACADVER": [(1, "AC1024")],
        "$DWGCODEPAGE": [(3, "ANSI_1252")],
        "$INSBASE": _point(10, 0.0, 0.0, 0.0),
        "$EXTMIN": _point(10, x0, y0, 0.0),
        "$EXTMAX": _point(10, x1, y1, 0.0),
        "$LTSCALE": [(40, 1.0)],
        "$TEXTSTYLE": [(7, "Standard")],
        "$CLAYER": [(8, "0")],
        "$DIMSTYLE": [(2, "Standard")],
        "$LUNITS": [(70, 2)],
        "$LUPREC": [(70, 4)],
        "$HANDSEED": [(5, f"{next_handle:X}")],
        "$MEASUREMENT": [(70, 1)],
        "$INSUNITS": [(70, 4)],
    }
    return tags(*(tag for name, values in variables.items() for tag in [(9, name), *values]))


@cache
def _after_view(layers: tuple[tuple[str, int, int], ...]) -> str:
    """Return the other tables and the blocks, the same for all drawings of one scene."""
    line_types = "".join(
        _record("LTYPE", f"{0x11 + i:X}", "2", "AcDbLinetypeTableRecord", (2, name), (70, 0), *LINE_TYPE_TAGS)
        for i, name in enumerate(("ByBlock", "ByLayer", "Continuous"))
    )
    style: list[Tag] = [(2, "Standard"), (70, 0), (40, 0.0), (41, 1.0), (50, 0.0), (71, 0), (42, 2.5)]
    spaces = [(MODEL_SPACE, "*Model_Space", MODEL_LAYOUT), (PAPER_SPACE, "*Paper_Space", PAPER_LAYOUT)]
    return (
        _table("LTYPE", "2", 3, line_types)
        + _table("LAYER", "3", len(layers) + 1, _layers(layers))
        + _table("STYLE", "4", 1, _record("STYLE", "15", "4", "AcDbTextStyleTableRecord", *style, (3, "txt"), (4, "")))
        + _table("VIEW", "5", 0, "")
        + _table("UCS", "6", 0, "")
        + _table("APPID", "7", 1, _record("APPID", "16", "7", "AcDbRegAppTableRecord", (2, "ACAD"), (70, 0)))
        + _table("DIMSTYLE", "8", 1, _dimension_style(), (100, "AcDbDimStyleTable"), (71, 0))
        + _table("BLOCK_RECORD", "9", 2, "".join(_block_record(*space) for space in spaces))
        + tags((0, "ENDSEC"))
        + _section("BLOCKS", _block(MODEL_SPACE, "*Model_Space") + _block(PAPER_SPACE, "*Paper_Space"))
        + tags((0, "SECTION"), (2, "ENTITIES"))
    )


LINE_TYPE_TAGS: list[Tag] = [(3, ""), (72, 65), (73, 0), (40, 0.0)]


def _table(name: str, handle: str, count: int, records: str, *extra: Tag) -> str:
    head = tags((0, "TABLE"), (2, name), (5, handle), (330, 0), (100, "AcDbSymbolTable"), (70, count), *extra)
    return head + records + tags((0, "ENDTAB"))


def _record(kind: str, handle: str, owner: str, subclass: str, *rest: Tag) -> str:
    # The reference gives DIMSTYLE records their handle in group 105, since 5 is one of their variables.
    handle_code = 105 if kind == "DIMSTYLE" else 5
    owned = [(handle_code, handle), (330, owner), (100, "AcDbSymbolTableRecord"), (100, subclass)]
    return tags((0, kind), *owned, *rest)


def _layers(layers: Sequence[tuple[str, int, int]]) -> str:
    rows: list[tuple[str, list[Tag]]] = [("0", [(62, 7)])]
    rows += [(name, [(62, index), (420, colour)]) for name, index, colour in layers]
    line: list[Tag] = [(6, "Continuous"), (370, -3), (390, NORMAL_STYLE)]
    return "".join(
        _record("LAYER", f"{0x20 + i:X}", "3", "AcDbLayerTableRecord", (2, name), (70, 0), *colours, *line)
        for i, (name, colours) in enumerate(rows)
    )


def _view(bounds: Box) -> str:
    x0, y0, x1, y1 = bounds
    height = 1.1 * max(y1 - y0, (x1 - x0) / VIEW_ASPECT, 1.0)
    shown: list[Tag] = [
        (2, "*Active"),
        (70, 0),
        *_point(10, 0.0, 0.0),
        *_point(11, 1.0, 1.0),
        *_point(12, f"{(x0 + x1) / 2 + 0.0:.6f}", f"{(y0 + y1) / 2 + 0.0:.6f}"),
        *_point(13, 0.0, 0.0),
        *_point(14, 10.0, 10.0),
        *_point(15, 10.0, 10.0),
        *_point(16, 0.0, 0.0, 1.0),
        *_point(17, 0.0, 0.0, 0.0),
        *((40, f"{height:.6f}"), (41, VIEW_ASPECT), (42, 50.0), (43, 0.0), (44, 0.0), (50, 0.0), (51, 0.0)),
        *((71, 0), (72, 1000), (73, 1), (74, 3), (75, 0), (76, 0), (77, 0), (78, 0)),
    ]
    return _record("VPORT", "10", "1", "AcDbViewportTableRecord", *shown)


VIEW_ASPECT = 1.6
"""Width over height of the window the drawing is first shown in."""


def _dimension_style() -> str:
    return _record("DIMSTYLE", "17", "8", "AcDbDimStyleTableRecord", (2, "Standard"), (70, 0))


def _block_record(handle: str, name: str, layout: str) -> str:
    layout_tags: list[Tag] = [(340, layout), (70, 4), (280, 1), (281, 0)]
    return _record("BLOCK_RECORD", handle, "9", "AcDbBlockTableRecord", (2, name), *layout_tags)


def _block(record: str, name: str) -> str:
    number = int(record, 16)
    space: list[Tag] = [(67, 1)] if record == PAPER_SPACE else []

    def owned(kind: str, handle: int, subclass: str) -> list[Tag]:
        entity: list[Tag] = [(100, "AcDbEntity"), *space, (8, "0"), (100, subclass)]
        return [(0, kind), (5, f"{handle:X}"), (330, record), *entity]

    begin = [*owned("BLOCK", number + 1, "AcDbBlockBegin"), (2, name), (70, 0), *_point(10, 0.0, 0.0, 0.0)]
    return tags(*begin, (3, name), (1, ""), *owned("ENDBLK", number + 2, "AcDbBlockEnd"))


def _objects() -> str:
    root = {"ACAD_GROUP": GROUPS, "ACAD_LAYOUT": LAYOUTS, "ACAD_PLOTSTYLENAME": PLOT_STYLES}
    default: list[Tag] = [(100, "AcDbDictionaryWithDefault"), (340, NORMAL_STYLE)]
    return (
        _dictionary("DICTIONARY", ROOT, "0", root)
        + _dictionary("DICTIONARY", GROUPS, ROOT, {})
        + _dictionary("DICTIONARY", LAYOUTS, ROOT, {"Model": MODEL_LAYOUT, "Layout1": PAPER_LAYOUT})
        + _dictionary("ACDBDICTIONARYWDFLT", PLOT_STYLES, ROOT, {"Normal": NORMAL_STYLE}, default)
        + tags((0, "ACDBPLACEHOLDER"), (5, NORMAL_STYLE), (330, PLOT_STYLES))
        + _layout("Model", 0, MODEL_LAYOUT, MODEL_SPACE)
        + _layout("Layout1", 1, PAPER_LAYOUT, PAPER_SPACE)
    )


def _dictionary(kind: str, handle: str, owner: str, entries: dict[str, str], last: Sequence[Tag] = ()) -> str:
    items: list[Tag] = [tag for name, target in entries.items() for tag in ((3, name), (350, target))]
    head: list[Tag] = [(0, kind), (5, handle), (330, owner), (100, "AcDbDictionary"), (281, 1)]
    return tags(*head, *items, *last)


def _layout(name: str, order: int, handle: str, block_record: str) -> str:
    # Plot settings: no printer, A4 upright, everything at 1:1 in millimetres; bit 1024 marks model space.
    margins: list[Tag] = [(code, 0.0) for code in (40, 41, 42, 43)]
    paper: list[Tag] = [(44, 210.0), (45, 297.0), *((code, 0.0) for code in (46, 47, 48, 49, 140, 141))]
    scale: list[Tag] = [(142, 1.0), (143, 1.0), (70, 0 if order else 1024), (72, 1), (73, 0), (74, 5), (7, "")]
    plot: list[Tag] = [(1, ""), (2, "none_device"), (4, ""), (6, ""), *margins, *paper, *scale, (75, 16), (147, 1.0)]
    placed: list[Tag] = [
        *_point(10, 0.0, 0.0),
        *_point(11, 210.0, 297.0),
        *_point(12, 0.0, 0.0, 0.0),
        *_point(14, 0.0, 0.0, 0.0),
        *_point(15, 210.0, 297.0, 0.0),
        (146, 0.0),
        *_point(13, 0.0, 0.0, 0.0),
        *_point(16, 1.0, 0.0, 0.0),
        *_point(17, 0.0, 1.0, 0.0),
        (76, 0),
        (330, block_record),
    ]
    head: list[Tag] = [(0, "LAYOUT"), (5, handle), (330, LAYOUTS), (100, "AcDbPlotSettings"), *plot, (148, 0.0)]
    return tags(*head, (149, 0.0), (100, "AcDbLayout"), (1, name), (70, 1), (71, order), *placed)
