"""One file for each check, and the table that names them."""

from __future__ import annotations

from pipeline.checks import (
    bare_box,
    bent_faithful,
    bent_radius,
    bodies_apart,
    corners_hidden,
    figure_scale,
    half_ribs,
    in_box,
    joint_gaps,
    panel_faithful,
    panel_feature,
    panel_outline,
    panel_stock,
    print_bed,
    print_closed,
    print_edges,
    print_faithful,
    print_hollow,
    print_overhang,
    print_wall,
    push_in,
    relief_joints,
    rib_slices,
    unseen,
)
from pipeline.checks.evidence import Check

CHECKS: tuple[Check, ...] = (
    in_box.CHECK,
    bodies_apart.CHECK,
    joint_gaps.CHECK,
    push_in.CHECK,
    bare_box.CHECK,
    unseen.CHECK,
    corners_hidden.CHECK,
    panel_outline.CHECK,
    panel_feature.CHECK,
    panel_stock.CHECK,
    panel_faithful.CHECK,
    bent_radius.CHECK,
    bent_faithful.CHECK,
    print_closed.CHECK,
    print_wall.CHECK,
    print_hollow.CHECK,
    print_edges.CHECK,
    print_bed.CHECK,
    print_overhang.CHECK,
    print_faithful.CHECK,
    relief_joints.CHECK,
    rib_slices.CHECK,
    half_ribs.CHECK,
    figure_scale.CHECK,
)
"""In the order they are told."""
