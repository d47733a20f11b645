"""Names make ids and file names, so they must be safe and differ."""

from __future__ import annotations

import pytest

from pipeline.room.measure import measure
from pipeline.scene.read import read_scene
from tests.scene.scene_text import FULL, SMALL, refusal

UNSAFE = ["", " pier", "1st pier", "a/b", "..", "a\\\\b", "pier\\n", "pie\u0301r", "pier.", "x" * 61, "a:b", "$(rm)"]


@pytest.mark.parametrize("name", UNSAFE)
def test_a_name_that_makes_an_unsafe_file_name_is_refused(name: str) -> None:
    said = refusal(FULL.replace('"pier"', f'"{name}"'))
    assert said.startswith("a.toml:28:1: columns[1].name: ")
    assert "is not a name that can name files; allowed: a letter, then up to 59 letters" in said


@pytest.mark.parametrize("name", ["con", "Nul", "AUX", "prn", "com1", "LPT9", "con-"])
def test_names_of_devices_are_refused(name: str) -> None:
    """Windows keeps these names for devices, with any extension (Microsoft, 'Naming Files, Paths, and Namespaces')."""
    assert refusal(FULL.replace('"pier"', f'"{name}"')) == (
        f'a.toml:28:1: columns[1].name: "{name}" is the name of a device on some systems; allowed: any other name.'
        f' Add a word, as in "{name} 2".'
    )


@pytest.mark.parametrize("name", ["floor", "Left Wall", "back-wall", "front_frame", "ceiling"])
def test_names_of_the_halls_own_parts_are_refused(name: str) -> None:
    assert "which is that of the part" in refusal(FULL.replace('"pier"', f'"{name}"'))


def test_two_names_that_give_one_id_are_refused_at_the_second() -> None:
    assert refusal(FULL.replace('"cross arch"', '"Side-Arch"')) == (
        'a.toml:36:1: arches[1].name: "Side-Arch" gives the id side-arch, which is that of openings[1];'
        " allowed: names that differ in more than case, spaces and hyphens. Rename one of the two."
    )


@pytest.mark.parametrize("kind", ["covers", "materials"])
def test_names_of_covers_and_materials_are_held_to_the_same(kind: str) -> None:
    table = {"covers": 'pattern = "stack"', "materials": "thickness = 2"}[kind]
    text = SMALL if kind == "covers" else SMALL.split("[materials")[0]
    line = text.count("\n") + 1
    assert refusal(text + f'[{kind}."a/b"]\n{table}\n').startswith(
        f'a.toml:{line}:1: {kind}."a/b": "a/b" is not a name'
    )
    assert refusal(text + f"[{kind}.con]\n{table}\n").startswith(f'a.toml:{line}:1: {kind}.con: "con" is the name of')


def test_a_cover_may_be_called_like_a_wall_or_an_element() -> None:
    scene = read_scene(FULL.replace("brick", "floor").replace("card", "pier"))
    assert measure(scene).hall.surfaces["left-wall"].material == "pier"


@pytest.mark.parametrize("name", ["a/b", "1st", "x" * 61])
def test_names_of_stuff_are_held_to_the_same(name: str) -> None:
    """They stand in tables for spreadsheets and in messages."""
    said = refusal(SMALL + f'[stuff."{name}"]\ndensity = 1\n')
    assert said.startswith("a.toml:14:1: stuff.")
    assert "is not a name that can name files; allowed: a letter, then up to 59 letters" in said
