"""How a layout file is refused; nothing heavy, so that it costs nothing to know."""

from __future__ import annotations

MOST_BYTES = 2_000_000
"""Of a layout file; that of a thousand parts has a twentieth."""


class LayoutError(ValueError):
    """A layout that cannot be read, or is one of other parts."""
