"""Scene files whose form is odd: nested deep, dotted long, of very many things, of bytes that are no text."""

from __future__ import annotations

import random
from collections.abc import Callable

Form = Callable[[random.Random], str]


def odd_form(rng: random.Random, text: str) -> str | bytes:
    """Return a good text with something of an odd form put in between two of its lines, or its bytes spoilt."""
    if rng.random() < 0.25:
        return _spoilt(rng, text)
    lines = text.split("\n")
    at = rng.randint(0, len(lines))
    return "\n".join([*lines[:at], rng.choice(FORMS)(rng), *lines[at:]])


def _many(rng: random.Random) -> int:
    return rng.choice((2, 10, 33, 65, 100, 1000, 1000, rng.randint(1, 3000)))


def _key(rng: random.Random) -> str:
    return rng.choice(("at", "name", "sheet", "eye", "box", "columns", "x", '"\\u00e9 "', "1"))


def _nested_arrays(rng: random.Random) -> str:
    deep = _many(rng)
    return f"{_key(rng)} = {'[' * deep}1{']' * rng.choice((deep, deep, deep - 1, 0))}"


def _nested_tables(rng: random.Random) -> str:
    deep = _many(rng)
    return f"{_key(rng)} = {'{ a = ' * deep}1{' }' * rng.choice((deep, deep, deep - 1))}"


def _nested_headers(rng: random.Random) -> str:
    return "\n".join(f"[{'.'.join(['a'] * n)}]" for n in range(1, min(_many(rng), 120)))


def _dotted(rng: random.Random) -> str:
    path = ".".join(_key(rng) for _ in range(_many(rng)))
    return rng.choice((f"{path} = 1", f"[{path}]", f"[[{path}]]", f"x = {{ {path} = 1 }}"))


def _long_key(rng: random.Random) -> str:
    return f"{'a' * _many(rng) * 10} = 1"


def _long_array(rng: random.Random) -> str:
    return f"{_key(rng)} = [{', '.join([rng.choice(('1', '[0, 1]', 'true', '{}'))] * _many(rng))}]"


def _long_number(rng: random.Random) -> str:
    digits = "9" * _many(rng)
    return f"{_key(rng)} = {rng.choice((digits, f'0.{digits}', f'1e{digits}', f'0x{digits}', f'-{digits}.{digits}'))}"


def _long_text(rng: random.Random) -> str:
    return f'{rng.choice(("title", "name"))} = "{rng.choice(("a", " ", "é", chr(0x1F3F0), "<b>", "../")) * _many(rng)}"'


def _many_tables(rng: random.Random) -> str:
    name = rng.choice(("columns", "openings", "arches", "lights", "figures", "steps", "clashes", "stuff", "x"))
    return f"[[{name}]]\n" * min(_many(rng), 400)


def _many_named(rng: random.Random) -> str:
    table = rng.choice(("materials", "covers", "stuff"))
    return "\n".join(f"[{table}.n{n}]" for n in range(min(_many(rng), 400)))


FORMS: tuple[Form, ...] = (
    _nested_arrays, _nested_tables, _nested_headers, _dotted, _long_key, _long_array, _long_number, _long_text,
    _many_tables, _many_named,
)  # fmt: skip


def _spoilt(rng: random.Random, text: str) -> bytes:
    """Return a text's bytes, of another encoding or with some that belong to none."""
    encoding = rng.choice(("utf-16", "utf-8-sig", "utf-16-le", "utf-32", "utf-8", "utf-8", "utf-8"))
    data = bytearray(text.encode(encoding))
    for _ in range(rng.randint(0, 3)):
        at = rng.randint(0, len(data))
        data[at:at] = rng.choice((b"\xff", b"\xc3", b"\xed\xa0\x80", b"\x00", b"\xf5\x80\x80\x80", b"\xc0\x80"))
    return bytes(data)
