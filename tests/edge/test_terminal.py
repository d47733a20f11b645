"""What goes to a terminal is what it shows: names from files cannot make it do anything."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.commands.terminal import Terminal

CLEAR, C1_RED, TURNED = "\x1b[2J", "\x9b31m", "\u202egnp.moor"


@pytest.mark.parametrize("text", [CLEAR, C1_RED, TURNED, "bell \a", "back\b\b", "over\rwritten", "\x7f", "\u2028"])
def test_nothing_that_a_terminal_obeys_is_written(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    """ECMA-48: C0 and C1 controls; the Unicode bidirectional algorithm's controls turn what follows round."""
    terminal = Terminal()
    for write in (terminal.result, terminal.message, terminal.error, terminal.problem):
        write(f"a{text}b")
    shown = capsys.readouterr()
    lines = (shown.out + shown.err).splitlines()
    assert len(lines) == 4
    assert all(line.isprintable() and "a" in line and line.endswith("b") for line in lines), lines


def test_letters_of_every_script_are_written_as_they_are(capsys: pytest.CaptureFixture[str]) -> None:
    """And a result keeps its lines."""
    Terminal().result("Zisterne für Čapek\n水槽 \N{HOUSE BUILDING}")
    assert capsys.readouterr().out == "Zisterne für Čapek\n水槽 \N{HOUSE BUILDING}\n"


def test_a_file_name_cannot_make_a_line_of_its_own(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A message is one line, whatever the folder is called."""
    path = tmp_path / "a\nroom.toml:1:1: all is well\x1b[2J" / "room.toml"
    path.parent.mkdir()
    path.write_text("format = 2\n")
    assert main(["inspect", str(path)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert lines
    assert all(line.startswith(str(tmp_path)) and line.isprintable() for line in lines), lines
