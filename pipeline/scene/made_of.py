"""What the things of a scene are made of, and what they are glued with.

Terms
-----
side
    What a joint has on either side of the glue: a sheet or a print, its stuff and the glue that it asks for.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.scene.model import Scene
from pipeline.scene.stuff import ClashTable, Shelf, Stuff

PRINTED = {"resin": "cured resin", "filament": "PLA"}
"""What prints are made of where the scene does not say."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side of a joint.

    Attributes
    ----------
    name
        The material, or ``"prints"``.
    stuff
        What it is made of; nothing where nobody can tell.
    said
        Whether the scene says so, and its name does not merely let us guess.
    glue
        The glue it asks for, or nothing.
    sealed
        Whether it is sealed.
    """

    name: str
    stuff: Stuff | None
    said: bool
    glue: str | None = None
    sealed: bool = False

    @property
    def words(self) -> frozenset[str]:
        """What clashes may call it."""
        return frozenset() if self.stuff is None else self.stuff.kinds


@dataclass(frozen=True, slots=True, kw_only=True)
class Glued:
    """What two sides are glued with, what it does not go together with if so, and which glue was passed over why."""

    glue: Stuff
    clash: ClashTable | None = None
    instead_of: tuple[str, str] | None = None


class MadeOf:
    """A scene's stuff."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.shelf = Shelf(scene.stuff, scene.clashes)

    def named(self, name: str) -> Stuff:
        """Return stuff by a name that the scene gives; reading it made sure that it is known."""
        found = self.shelf.find(name)
        return found if found is not None else Stuff(name=name, kinds=frozenset([name.lower()]))

    def sheet(self, material: str) -> Side:
        """Return what a material's sheets are made of."""
        table = self.scene.materials[material]
        stuff = self.named(table.of) if table.of is not None else self.shelf.of_words(material)
        return Side(name=material, stuff=stuff, said=table.of is not None, glue=table.glue, sealed=table.sealed)

    @property
    def prints(self) -> Side:
        """What prints are made of."""
        printer = self.scene.make.printer
        stuff = self.named(printer.of or PRINTED[printer.process])
        return Side(name="prints", stuff=stuff, said=printer.of is not None, glue=printer.glue)

    def side(self, material: str | None) -> Side:
        """Return a side by its material; nothing is a print."""
        return self.prints if material is None else self.sheet(material)

    def sheet_density(self, material: str) -> tuple[float | None, bool]:
        """Return a material's density, g/cm^3, and whether the scene gives it."""
        return self._density(self.scene.materials[material].density, self.sheet(material).stuff)

    @property
    def print_density(self) -> tuple[float | None, bool]:
        """Density of prints, g/cm^3, and whether the scene gives it."""
        return self._density(self.scene.make.printer.density, self.prints.stuff)

    def density(self, stuff: Stuff | None) -> tuple[float | None, bool]:
        """Return the density of stuff, g/cm^3, and whether the scene gives it."""
        return self._density(None, stuff)

    def _density(self, given: float | None, stuff: Stuff | None) -> tuple[float | None, bool]:
        if given is not None:
            return given, True
        return (None, False) if stuff is None else (stuff.density, self.shelf.says(stuff, "density"))

    def dries_said(self, stuff: Stuff) -> bool:
        """Return whether the scene says how long stuff dries."""
        return self.shelf.says(stuff, "dries")

    @property
    def paint(self) -> Stuff:
        """What the room is painted with."""
        return self.named(self.scene.work.paint)

    @property
    def filler(self) -> Stuff | None:
        """What is filled in behind the vault, or nothing."""
        return None if self.scene.work.filler is None else self.named(self.scene.work.filler)

    def coat(self, material: str) -> Stuff | None:
        """Return what is laid on a material where a surface has a finish, or nothing."""
        name = self.scene.materials[material].coat
        return None if name is None else self.named(name)

    def units(self, cover: str, material: str) -> Stuff | None:
        """Return what a cover's units are made of where they are laid by hand on a material."""
        name = self.scene.covers[cover].of
        return self.coat(material) if name is None else self.named(name)

    def glue(self, one: Side, other: Side) -> Glued:
        """Return what two sides are glued with: the first that spoils neither of what they ask for and the usual one.

        Where each of them spoils one of the two, it is the first, with that clash.
        """
        asked = [name for name in (one.glue, other.glue) if name is not None]
        first: Glued | None = None
        for name in dict.fromkeys((*asked, self.scene.work.glue)):
            glue = self.named(name)
            clash = self.glue_clash(glue, one, other)
            if clash is None:
                passed = None if first is None or first.clash is None else (first.glue.name, first.clash.reason)
                return Glued(glue=glue, instead_of=passed)
            first = first or Glued(glue=glue, clash=clash)
        assert first is not None
        return first

    def glue_clash(self, glue: Stuff, one: Side, other: Side) -> ClashTable | None:
        """Return what a glue does not go together with on either side of a joint, or nothing."""
        for side in (one, other):
            clash = self.shelf.clash(glue.kinds, side.words, sealed=side.sealed)
            if clash is not None:
                return clash
        return None
