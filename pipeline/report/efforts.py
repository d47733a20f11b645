"""How long all of it takes: work of every kind, as much as there is of it, at the rates the scene tells."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pipeline.checks.evidence import Evidence
from pipeline.geometry.curves import length
from pipeline.stages.hand_work import HandWork

MM2_PER_CM2, MM_PER_M = 100.0, 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """Work of one kind: how much, in which unit, how much of it is done in an hour, and so how long it takes."""

    name: str
    amount: float
    unit: str
    rate: float | None

    @property
    def hours(self) -> float | None:
        """How long it takes, or nothing without a rate."""
        return None if self.rate is None else self.amount / self.rate


def efforts(evidence: Evidence, by_hand: tuple[HandWork, ...], painted: float) -> dict[str, Effort]:
    """Return the work of each kind there is, by the key of ``[work.rates]``.

    Guides are drawn where no machine draws them, or a coat hides them; ``painted`` is what may be seen, mm^2.
    """
    scene, rates = evidence.scene, evidence.scene.work.rates
    coated = {work.part for work in by_hand if work.finish > 0}
    drawn = [
        part for part in evidence.cut_parts if part.id in coated or scene.materials[part.material].process == "hand"
    ]
    rims = math.fsum(length(curve) for part in evidence.cut_parts for curve in part.cut.curves)
    guides = math.fsum(float(np.linalg.norm(part.guides[:, 1] - part.guides[:, 0], axis=1).sum()) for part in drawn)
    coat = math.fsum(float(panel.area) for panel in evidence.panels if panel.id in coated)
    whole, units = evidence.whole_prints, sum(work.whole + work.cut for work in by_hand)
    found = {
        "cut": Effort(name="Cutting", amount=rims / MM_PER_M, unit="m", rate=rates.cut),
        "guides": Effort(name="Drawing guides", amount=guides / MM_PER_M, unit="m", rate=rates.guides),
        "clean": Effort(name="Cleaning prints", amount=len(evidence.prints), unit="prints", rate=rates.clean),
        "bend": Effort(name="Bending", amount=len(evidence.bents), unit="panels", rate=rates.bend),
        "coat": Effort(name="Coating", amount=coat / MM2_PER_CM2, unit="cm\N{SUPERSCRIPT TWO}", rate=rates.coat),
        "units": Effort(name="Sculpting or scoring", amount=units, unit="units", rate=rates.units),
        "fit": Effort(
            name="Fitting and gluing", amount=len(evidence.cut_parts) + len(whole), unit="parts", rate=rates.fit
        ),
        "paint": Effort(
            name="Painting",
            amount=painted / MM2_PER_CM2,
            unit="cm\N{SUPERSCRIPT TWO}",
            rate=rates.paint,
        ),
    }
    return {key: effort for key, effort in found.items() if effort.amount > 0}
