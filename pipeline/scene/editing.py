"""One value of a scene file changed, everything else left as it was: comments, order, blanks."""

from __future__ import annotations

import copy
import tomllib

import tomlkit
from tomlkit.exceptions import TOMLKitError


class EditError(ValueError):
    """The file cannot be changed in that one place; it has to be done by hand."""


def with_kerf(text: str, material: str, kerf: float) -> str:
    """Return a scene file's text with ``materials.<material>.kerf`` set.

    Parameters
    ----------
    text
        A scene file that can be read and has that material.
    kerf
        mm.

    Raises
    ------
    EditError
        If anything else in the file would change with it.
    """
    wanted = copy.deepcopy(tomllib.loads(text))
    wanted["materials"][material]["kerf"] = kerf
    try:
        document = tomlkit.parse(text)
        document["materials"][material]["kerf"] = kerf
        edited = tomlkit.dumps(document)
        same = tomllib.loads(edited) == wanted
    except (TOMLKitError, tomllib.TOMLDecodeError, KeyError, TypeError, AttributeError) as error:
        raise EditError("the file is written in a way that cannot be changed safely") from error
    if not same:
        raise EditError("more than the kerf would change")
    return edited
