"""Streams that go away, fill up or cannot show a letter."""

from __future__ import annotations

import io
import os
import sys
from pathlib import Path

import pytest

from pipeline.cli import main
from tests.edge.standing_in import scene

pytestmark = pytest.mark.usefixtures("stood_in")


def test_a_reader_that_goes_away_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """``foreshorten build ... | head``: the exit code is that of the build."""
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w") as stream:
        monkeypatch.setattr(sys, "stdout", stream)
        assert main(["build", scene("room.toml", "check fails")]) == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_result_that_cannot_be_written_is_not_success(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """``foreshorten schema > file`` on a full disk must not look as if it had worked."""
    with Path("/dev/full").open("w") as stream:
        monkeypatch.setattr(sys, "stdout", stream)
        assert main(["inspect", scene("room.toml")]) == 2
    assert "no space left on device" in capsys.readouterr().err


def test_text_a_stream_cannot_show_is_escaped(monkeypatch: pytest.MonkeyPatch) -> None:
    """A scene's name may hold any letter, and the stream may be ASCII."""
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(sys, "stdout", stream)
    assert main(["build", scene("größe.toml")]) == 0
    stream.seek(0)
    assert stream.readline() == "gr\\xf6\\xdfe: 1 panel\n"
    assert stream.readline().endswith("gr\\xf6\\xdfe/report.html\n")
