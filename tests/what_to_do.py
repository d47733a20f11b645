"""Whether a message tells what to do next: it holds a word that asks for something, or names what is allowed."""

from __future__ import annotations

import re

ASKS = re.compile(
    r"\b(add|allowed|answer|ask for|as in|bevel|break|bring|build|choose|change|copy|cut it|delete|did you mean|drill"
    r"|fill|find|give|glue|hide|keep|lay|leave|leaves|lessen|let|make|measure|mend|model|move|name|narrower|paint|press|print"
    r"|push|put|rename|report|run|sand|say|see|send|set|split|start|take|there are|there is|tilt|trim|try|turn|type|use"
    r"|widen|write)\b",
    re.IGNORECASE,
)


def tells_what_to_do(message: str) -> bool:
    """Return whether there is such a word in what follows what was found."""
    return ASKS.search(message) is not None
