"""What fills an opening: tracery and doors, flat pieces glued behind the wall."""

from __future__ import annotations

from pipeline.elements.fillings.door import DoorTable, hang
from pipeline.elements.fillings.hole import Hole, rebate_problems
from pipeline.elements.fillings.tracery import TraceryTable, glaze

__all__ = ["DoorTable", "Hole", "TraceryTable", "glaze", "hang", "rebate_problems"]
