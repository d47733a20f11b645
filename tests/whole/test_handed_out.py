"""What is made for people to hold is made after all that is checked, and none of it is missing from a build."""

from __future__ import annotations

from pipeline.build import shape, write
from pipeline.checks import CHECKS

from ..conftest import SCENES, built


def test_what_is_handed_out_is_what_no_check_asks_for() -> None:
    """Without it the same findings and the same bytes; a whole build has all of both."""
    text = (SCENES / "cistern.toml").read_bytes()
    shaped = shape(text)
    checked, whole = (write(shaped, text, hands_out=hands_out) for hands_out in (False, True))
    assert set(whole.files) - set(checked.files) == {"templates.pdf", "measures.csv", "prints.3mf", "box/cut-list.csv"}
    assert all(whole.files[name] == data for name, data in checked.files.items())
    assert whole.files.items() <= built("cistern").files.items()
    told = [{(one.id, one.part, one.status, one.value) for check in CHECKS for one in check.run(evidence)}
            for evidence in (checked, whole)]  # fmt: skip
    assert told[0] == told[1]
