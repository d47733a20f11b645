"""A material's test pieces as a neutral drawing, and how to read them."""

from __future__ import annotations

from pipeline.exports.drawing import Drawing, Layer, Shape
from pipeline.geometry.curves import polygon
from pipeline.sheets.coupons import BLOCKS, Coupon


def draw_coupon(coupon: Coupon, title: str, colours: dict[Layer, str]) -> Drawing:
    """Return the drawing: letters first, then the cuts between the blocks, then the outlines."""
    outlines = (polygon(coupon.gauge), polygon(coupon.comb))
    return Drawing(
        title=title,
        shapes=tuple(Shape(layer=Layer.OUTLINE, path=path) for path in outlines),
        lines={Layer.HOLES: coupon.cuts, Layer.NOTES: coupon.letters},
        colours=colours,
    )


def coupon_text(coupon: Coupon, material: str, thickness: float, command: str) -> str:
    """Return what to do with the pieces, as plain text.

    Parameters
    ----------
    coupon, material, thickness
        What was drawn, and for which sheet, mm.
    command
        What is typed to hand the reading back, up to the reading.
    """
    length = coupon.length
    return f"""Test pieces for {material}, {thickness:g} mm. Nothing is added for the kerf: cut on the lines as drawn.

Cut from the sheet you will use, with the settings you will use: the letters (NOTES) scored or not at all, then the lines
between the blocks (HOLES), then the two outlines (OUTLINE).

The gauge: {BLOCKS} blocks of {coupon.block:g} mm, {length:g} mm as drawn.
  Brush off crumbs, push the blocks together against a straight edge in their order, and measure the row with a calliper
  or a steel rule. Each cut took its width:
      kerf = ({length:g} - measured) / {BLOCKS}
  The row's two ends lost half a kerf each, which makes {BLOCKS} whole ones with the {BLOCKS - 1} cuts between the blocks.
  A calliper reads the kerf to about 0.002 mm, a rule to about 0.03.
      {command} MEASURED
  says what to write into the scene, and with --write writes it there.

The comb: slots of {coupon.widths[0]:.2f} to {coupon.widths[-1]:.2f} mm, as drawn; the cut makes them wider by a kerf.
  Push an edge of the same sheet into each. The slot that holds it without force and without play is the one: its number
  and the kerf added are the sheet's true thickness ({thickness:g} mm in the scene). If they are not, measure the sheet
  again and mend materials.{material}.thickness first: every joint depends on it.

A laser cuts wider at the top than at the bottom: measure the side that will be seen. Never laser a sheet whose make-up
you do not know, keep the extraction on, and stay with it. Blades: cut away from yourself. Your machine's manual and the
maker's data sheet come first.
"""
