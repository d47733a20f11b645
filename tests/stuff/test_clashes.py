"""What does not go together is told, with its reason and how grave it is."""

from __future__ import annotations

import pytest

from pipeline.checks import clashes
from pipeline.checks.model import Finding
from pipeline.scene.made_of import MadeOf
from pipeline.scene.problems import SceneFileError
from pipeline.scene.read import read_scene
from pipeline.scene.stuff import TOOLS, package

from .rooms import GROIN, POST, TRUE, shaped

FOAM = TRUE.replace('of = "card"', 'of = "polystyrene foam"') + POST


def found(text: str, *settings: tuple[str, str]) -> list[Finding]:
    return clashes.run(shaped(text, *settings))


def told(text: str, *settings: tuple[str, str]) -> list[tuple[str, str]]:
    """Return status and message of everything that is no pass."""
    return [(one.status, one.message) for one in found(text, *settings) if one.status != "pass"]


PAIRS = [
    # What the trade warns of (common practice; lasers: a university's guide to its laser cutter).
    ([("work.glue", "cyanoacrylate")], "warn", "ruin: cyanoacrylate glues board (polystyrene foam)", "dissolves"),
    ([("work.glue", '"solvent glue"')], "warn", "ruin: solvent glue glues board (polystyrene foam)", "dissolve"),
    ([("materials.board.glue", "cyanoacrylate")], "warn", "ruin: board (polystyrene foam) asks for", "dissolves"),
    ([("left.finish", "0.5"), ("materials.board.coat", '"heat-cured clay"')], "warn", "ruin: heat-cured clay", "oven"),
    ([("materials.board.process", "laser")], "fail", "danger: board (polystyrene foam) is cut by laser", "fire"),
    ([("materials.board.of", "PVC"), ("materials.board.process", "laser")], "fail", "(vinyl) is cut", "chloride"),
    ([("materials.board.of", '"foamed vinyl"'), ("materials.board.process", "laser")], "fail", "danger", "by hand"),
    ([("work.paint", '"solvent spray paint"')], "warn", "ruin: board (polystyrene foam) is painted", "water"),
]


@pytest.mark.parametrize(("settings", "status", "what", "why"), PAIRS, ids=lambda value: str(value)[:40])
def test_what_does_not_go_together_is_told(settings: list[tuple[str, str]], status: str, what: str, why: str) -> None:
    """Solvent or cyanoacrylate glue, heat-cured clay, solvent paint and lasers with foam; lasers with vinyl."""
    said = told(FOAM, *settings)
    assert said, settings
    assert any(one == status and what in words and why in words for one, words in said)


@pytest.mark.parametrize("of", [name for name, table in package().stuff.items() if "foam" in table.kinds])
def test_no_foam_goes_under_a_laser_or_into_an_oven(of: str) -> None:
    """A pair that names a kind holds for all stuff of that kind, though another stuff goes by that word as well."""
    sheets = ("materials.board.of", f'"{of}"'), ("left.finish", "0.5")
    lasered = told(TRUE, *sheets, ("materials.board.process", "laser"))
    assert [status for status, _ in lasered] == ["fail"], of
    baked = told(TRUE, *sheets, ("materials.board.coat", '"heat-cured clay"'))
    assert [message.split(":")[0] for _, message in baked] == ["ruin"], of


@pytest.mark.parametrize("of", ["polystyrene sheet", "vinyl", "acrylic", "ABS", "HDPE"])
def test_clay_is_not_cured_on_a_sheet_that_softens_in_the_oven(of: str) -> None:
    """Clay is cured at 110 to 130 degrees C; these sheets lose their shape between 70 and 110 (common practice)."""
    sheets = ("materials.board.of", f'"{of}"'), ("left.finish", "0.5"), ("materials.board.coat", '"heat-cured clay"')
    [(status, message)] = told(TRUE, *sheets)
    assert (status, message.split(":")[0]) == ("warn", "ruin")


def test_epoxy_putty_on_air_dried_clay_holds_only_where_that_is_sealed() -> None:
    """Units of putty over a coat of clay: weak on bare clay, nothing to say on sealed clay."""
    text = TRUE.replace("[left]\n", '[left]\ncover = "brick"\nfinish = 0.8\n') + (
        '[covers.brick]\nrelief = 0.03\nrelief_as = "guides"\nof = "epoxy putty"\n'
    )
    over = [("materials.board.coat", '"air-dried clay"'), ("materials.board.of", "plywood")]
    bare = told(text, *over)
    assert [status for status, _ in bare] == ["warn"]
    assert bare[0][1].startswith("weak: epoxy putty is laid on air-dried clay over board: epoxy putty needs a sealed")
    assert told(text, *over, ("materials.board.sealed", "true")) == []


def test_a_glue_that_spoils_the_other_side_is_passed_over() -> None:
    """Prints ask for cyanoacrylate: it joins them to one another, and PVA joins them to foam."""
    assert told(FOAM, ("make.printer.glue", "cyanoacrylate")) == []
    assert told(FOAM, ("make.printer.glue", "cyanoacrylate"), ("work.glue", "cyanoacrylate")) != []


def test_what_goes_together_is_counted_and_passes() -> None:
    """Cut, five glued joints of one sheet, and paint: no clash in card, PVA glue and acrylic paint."""
    assert [one.status for one in found(TRUE)] == ["pass"]
    assert "3 of 3 pairs" in found(TRUE)[0].message


def test_a_scene_adds_its_own_stuff_and_clashes() -> None:
    """The package's table is only the beginning."""
    own = TRUE + (
        '[work]\nglue = "bone glue"\n[stuff."bone glue"]\nkinds = ["glue"]\ndries = 6\n'
        '[[clashes]]\npair = ["bone glue", "paper"]\nseverity = "danger"\nreason = "it brings mice"\n'
        'instead = "take PVA glue"\n'
    )
    [(status, message)] = told(own)
    assert status == "fail"
    assert message.startswith("danger: bone glue glues board (card) to board (card): it brings mice; take PVA glue")


def test_a_pair_of_a_scene_may_be_two_sheets_that_meet() -> None:
    """Not only what is laid, glued or painted on something: what stands against it in a joint as well."""
    two = OTHER.replace('process = "laser"', 'of = "vinyl"') + POST
    own = '[[clashes]]\npair = ["card", "PVC"]\nreason = "its softener creeps"\n'
    [(status, message)] = told(two + own)
    assert status == "warn"
    assert message == (
        "weak: board (card) and thing (vinyl) meet in a joint: its softener creeps; "
        "take something else for one of the two (floor to left-wall, ceiling to left-wall, left-wall to back-wall)"
    )
    printed = told(TRUE + POST + '[[clashes]]\npair = ["card", "cured resin"]\nseverity = "ruin"\nreason = "x"\n')
    assert printed == [
        (
            "warn",
            "ruin: prints (cured resin) and board (card) meet in a joint: x; take something else for one of the two "
            "(floor to post, ceiling to post)",
        )
    ]


@pytest.mark.parametrize("name", ["foam", "XPS", "polystyrene foam", "Polystyrene Foam"])
def test_a_table_of_a_scene_adds_to_stuff_by_any_of_its_names(name: str) -> None:
    """What it gives replaces the package's figure; what it does not give stays, and so do the clashes."""
    text = TRUE.replace('of = "card"', 'of = "polystyrene foam"') + f'[stuff."{name}"]\ndensity = 0.031\n'
    assert told(text, ("work.glue", "superglue"))[0][1].startswith("ruin: cyanoacrylate glues board (polystyrene foam)")
    assert MadeOf(read_scene(text)).sheet_density("board") == (0.031, True)


def test_units_laid_on_a_vaults_webs_are_held_against_them_and_painted() -> None:
    """Clay laid up by hand on webs of card warps them like a wall; it is what the paint then lies on."""
    text = GROIN.replace('material = "paper"\n', 'material = "paper"\ncover = "work"\n') + (
        '[covers.work]\nlength = 0.5\nheight = 0.2\njoint = 0.01\nrelief = 0.03\nrelief_as = "guides"\n'
        'of = "air-dried clay"\n'
    )
    [(status, message)] = told(text)
    assert status == "warn"
    assert message.startswith("weak: air-dried clay is laid on paper: its water swells")
    assert met(text)["air-dried clay is painted with acrylic paint"].parts == tuple(
        f"vault-bay-1-web-{side}" for side in ("left", "right", "front", "back")
    )


def test_stuff_is_told_from_a_materials_name_or_asked_for() -> None:
    """A material called foam is foam; one called board could be anything, which is said and not guessed."""
    text = TRUE.replace('of = "card"\n', "")
    assert any("what board is made of" in one.message for one in found(text))
    named = text.replace('"board"', '"blue foam"').replace("materials.board", 'materials."blue foam"')
    assert told(named, ("work.glue", "cyanoacrylate"))[0][0] == "warn"


@pytest.mark.parametrize(
    ("added", "place", "found", "remedy"),
    [
        ('[work]\nglue = "PVA gleu"\n', "work.glue", 'no stuff "PVA gleu"', 'did you mean "PVA glue"?'),
        ('[work]\nfiller = "sand"\n', "work.filler", 'no stuff "sand"', "[stuff"),
        ('[[clashes]]\npair = ["lasser", "card"]\nreason = "x"\n', "clashes.0.pair.0", '"lasser"', "laser"),
        ('[make.printer]\nof = "brass"\n', "make.printer.of", '"brass"', ""),
        ('[stuff."a/b"]\ndensity = 1\n', "stuff.a/b", "a/b", ""),
        ('[[clashes]]\npair = ["card"]\nreason = "x"\n', "clashes.0.pair", "too few", ""),
        ("[stuff.sand]\ndensity = -1\n", "stuff.sand.density", "out of bounds", ""),
        ('[stuff.moss]\nalso = ["lichen", "XPS"]\n', "stuff.moss.also.1", "a name of polystyrene foam", "[stuff"),
        ('[stuff.moss]\nalso = ["lichen"]\n[stuff.fern]\nalso = ["Lichen"]\n', "stuff.fern.also.0", "of moss", ""),
        ("[stuff.laser]\ndensity = 1\n", "stuff.laser", "what sheets are cut with", "another name"),
        ('[work]\nglue = "XPS"\n', "work.glue", '"XPS" is no glue', 'kinds = ["glue"]'),
        ('[work]\npaint = "PVA"\n', "work.paint", '"PVA" is no paint', 'kinds = ["paint"]'),
        ('[make.printer]\nglue = "PLA"\n', "make.printer.glue", '"PLA" is no glue', ""),
    ],
)
def test_unknown_stuff_is_refused_where_it_stands(added: str, place: str, found: str, remedy: str) -> None:
    """A slip in a name would switch the check off unseen, so it is an error with the nearest name."""
    with pytest.raises(SceneFileError) as caught:
        read_scene(TRUE + added)
    [problem] = caught.value.problems
    assert place == ".".join(map(str, problem.path))
    assert found in problem.found
    assert remedy in problem.remedy


def test_the_packages_table_names_only_what_it_knows() -> None:
    """Every word of a clash is stuff, a kind of it, or a tool; no name leads to two things; glues say how they dry."""
    tables = package()
    words = [word.lower() for name, table in tables.stuff.items() for word in (name, *table.also)]
    kinds = {kind.lower() for table in tables.stuff.values() for kind in table.kinds}
    assert sorted(words) == sorted(set(words))
    assert {word.lower() for clash in tables.clashes for word in clash.pair} <= {*words, *kinds, *TOOLS}
    assert [name for name, table in tables.stuff.items() if "glue" in table.kinds and table.dries is None] == []
    assert [name for name, table in tables.stuff.items() if table.density is None] == []


def test_a_clash_counts_one_pair_and_says_where() -> None:
    """Three places are named and the rest counted; no one part is at fault where many are."""
    head, *found_clashes = found(FOAM, ("work.glue", '"solvent glue"'))
    assert head.message.startswith("5 of 7 pairs that meet go together")
    assert (head.part, head.status, head.value, head.limit) == ("", "pass", 0.0, 0.0)
    sheets, print_on_sheets = found_clashes
    assert sheets.message.endswith("(floor to left-wall, floor to right-wall, floor to back-wall and 5 more)")
    assert print_on_sheets.message.endswith("(floor to post, ceiling to post)")
    for one in found_clashes:
        assert (one.id, one.part, one.status, one.value, one.limit) == ("clash", "", "warn", 1.0, 0.0)
        assert "; take one thinned with water (" in one.message


OTHER = TRUE.replace('[left]\nmaterial = "board"', '[left]\nmaterial = "thing"') + (
    '[materials.thing]\nthickness = 1.0\nprocess = "laser"\nsheet = [300, 200]\n'
)
"""The left wall of another sheet, of which nothing is known."""


def test_what_happens_at_one_part_names_it() -> None:
    """A sheet of foam under a laser is that wall's own danger; glue is between two, and nobody's."""
    head, clash = found(OTHER + 'of = "polystyrene foam"\n')
    assert head.message.startswith("7 of 8 pairs")
    assert (clash.part, clash.status, clash.value) == ("left-wall", "fail", 1.0)
    assert clash.message.endswith("; cut it by hand or by knife (left-wall)")


def test_a_sheet_of_unknown_stuff_passes_with_a_word_and_counts_for_no_pair() -> None:
    """One part made of it is named; of several none is."""
    head, unknown = found(OTHER)
    assert head.message.startswith("4 of 4 pairs")
    assert (unknown.part, unknown.status, unknown.value, unknown.limit) == ("left-wall", "pass", 0.0, 0.0)
    assert "[materials.thing]" in unknown.message
    head, unknown = found(TRUE.replace('of = "card"\n', ""))
    assert head.message.startswith("0 of 0 pairs")
    assert (unknown.part, unknown.status, unknown.value) == ("", "pass", 0.0)


def met(text: str, *settings: tuple[str, str]) -> dict[str, clashes.Meeting]:
    evidence = shaped(text, *settings)
    return {meeting.told: meeting for meeting in clashes.meetings(evidence, MadeOf(evidence.scene))}


def test_filler_lies_behind_walls_and_webs() -> None:
    """Against the vault and the walls beside it, by sheet; not against floor and back wall. No vault, no filler."""
    filled = met(GROIN, ("work.filler", "plaster"))
    walls = filled["plaster is filled in behind board (card)"]
    webs = filled["plaster is filled in behind paper"]
    assert walls.parts == ("left-wall", "right-wall")
    assert webs.parts == tuple(f"vault-bay-1-web-{side}" for side in ("left", "right", "front", "back"))
    assert (walls.one, walls.other) == (frozenset({"plaster"}), frozenset({"card", "paper"}))
    assert (webs.one, webs.other, webs.sealed) == (frozenset({"plaster"}), frozenset({"paper"}), False)
    sealed = met(GROIN, ("work.filler", "plaster"), ("materials.board.sealed", "true"))
    assert sealed["plaster is filled in behind board (card)"].sealed
    assert not any("filled in" in told for told in met(TRUE, ("work.filler", "plaster")))
    assert not any("filled in" in told for told in met(GROIN))


def test_paint_lies_on_sheets_and_prints() -> None:
    """Everything that is cut, by sheet; bent sheets too; prints by name; no prints, none painted."""
    painted = met(FOAM)["prints (cured resin) are painted with acrylic paint"]
    assert painted.parts == ("post",)
    assert "acrylic paint" in painted.one
    assert not painted.sealed
    assert not any(told.startswith("prints") for told in met(TRUE))
    assert len(met(GROIN)["paper is painted with acrylic paint"].parts) == 4
    assert met(TRUE)["board (card) is painted with acrylic paint"].parts[0] == "floor"


def test_a_glue_asked_for_is_held_against_what_asks() -> None:
    """Prints only where there are any; a sheet by its name, and sealed if it is."""
    asked = ("make.printer.glue", "cyanoacrylate")
    prints = [one for told, one in met(FOAM, asked).items() if told.startswith("prints") and "asks for" in told]
    assert [one.one for one in prints] == [met(FOAM, asked)["prints (cured resin) asks for cyanoacrylate"].one]
    assert "cyanoacrylate" in prints[0].one
    assert not any(told.startswith("prints") for told in met(TRUE, asked))
    for sealed in (False, True):
        settings = [("materials.board.glue", "cyanoacrylate"), ("materials.board.sealed", str(sealed).lower())]
        meetings = met(TRUE, *settings)
        assert meetings["board (card) asks for cyanoacrylate"].parts == ("board",)
        assert meetings["board (card) asks for cyanoacrylate"].sealed == sealed
        assert meetings["board (card) is cut by knife"].sealed == sealed
        assert meetings["board (card) is painted with acrylic paint"].sealed == sealed
