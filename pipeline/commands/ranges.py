"""Several values in one argument: ``60,80`` or ``300:600:50``, from, to and step."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

MOST = 1_000_000
"""Values of one range; more are a slip, and would fill the memory."""


def values(text: str) -> list[str]:
    """Return the values a text names, in order, as texts of their own.

    A range takes its end in where a whole number of steps leads to it. Commas within brackets or quotes part nothing.

    Raises
    ------
    ValueError
        If it names none, or a range leads nowhere; the text says why.
    """
    out: list[str] = []
    for piece in _pieces(text):
        if not piece.strip():
            raise ValueError(f"{text!r} has an empty place; allowed: values between commas, as in 60,80")
        out += _range(piece.strip())
        if len(out) > MOST:
            raise ValueError(f"{text!r} names more than {MOST:,} values")
    return out


def _pieces(text: str) -> list[str]:
    pieces, depth, quote = [""], 0, ""
    for letter in text:
        if quote:
            quote = "" if letter == quote else quote
        elif letter in "\"'":
            quote = letter
        elif letter in "[{":
            depth += 1
        elif letter in "]}":
            depth -= 1
        elif letter == "," and depth == 0:
            pieces.append("")
            continue
        pieces[-1] += letter
    return pieces


def _range(piece: str) -> list[str]:
    numbers = piece.split(":")
    if len(numbers) == 1 or piece[:1] in "\"'[{":
        return [piece]
    try:
        if len(numbers) != 3:
            raise ValueError
        first, last, step = (Decimal(number.strip()) for number in numbers)
        if not (first.is_finite() and last.is_finite() and step.is_finite()):
            raise ValueError
    except (ValueError, InvalidOperation):
        raise ValueError(f"{piece!r} is not FROM:TO:STEP in plain numbers, as in 300:600:50") from None
    if step == 0 or (last - first) / step < 0:
        raise ValueError(f"{piece!r} leads nowhere: a step of {step} never comes from {first} to {last}")
    count = int((last - first) / step)
    if count >= MOST:
        raise ValueError(f"{piece!r} names more than {MOST:,} values")
    return [_plain(first + number * step) for number in range(count + 1)]


def _plain(value: Decimal) -> str:
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text
