"""Mistakes on the command line, each told in one line with what to do next."""

from __future__ import annotations

import argparse
import re
from typing import Any, NoReturn

from pipeline.scene.nearest import nearest
from pipeline.scene.values import visible

FIRST = 'name a command. To begin: foreshorten begin "my room"'


class Parser(argparse.ArgumentParser):
    """A parser that knows what was most likely meant."""

    def __init__(self, *arguments: Any, **settings: Any) -> None:
        self.known: list[str] = []
        super().__init__(*arguments, **settings)

    def add_argument(self, *names: Any, **settings: Any) -> argparse.Action:
        """Remember options by their names."""
        action = super().add_argument(*names, **settings)
        self.known += [name for name in action.option_strings if name.startswith("--")]
        return action

    def error(self, message: str) -> NoReturn:
        """Leave with code 2, having said what is wrong and what to do."""
        said = visible(worded(message))
        self.exit(2, f"{self.prog}: {said}{'' if said.endswith('?') else f'; {self.prog} --help tells more'}\n")

    def unknown(self, extra: list[str]) -> NoReturn:
        """Leave, since there are arguments nobody knows."""
        option = next((word.partition("=")[0] for word in extra if word.startswith("--")), "")
        guess = nearest(option, self.known) if option else None
        hint = f"; did you mean {guess}?" if guess else ""
        told = hint or f"; {self.prog} --help tells what it takes"
        self.exit(2, f"{self.prog}: does not take {visible(' '.join(extra))}{told}\n")


def worded(message: str) -> str:
    """Return one of argparse's messages in plainer words."""
    if missing := re.fullmatch(r"the following arguments are required: (.*)", message):
        return FIRST if missing[1] == "COMMAND" else f"{missing[1]} is missing"
    if choice := re.fullmatch(r"argument (\S+): invalid choice: '(.*)' \(choose from (.*)\)", message):
        name, word = choice[1], choice[2]
        choices = re.findall(r"[\w-]+", choice[3])
        guess = nearest(word, choices)
        hint = f"did you mean {guess}?" if guess else f"choose from {', '.join(choices)}"
        return (
            f"there is no command {word!r}: {hint}" if name == "COMMAND" else f"{name}: {word!r} is no choice: {hint}"
        )
    if lacking := re.fullmatch(r"argument (\S+): expected one argument", message):
        option = lacking[1].split("/")[-1]
        return f"{option}: a value is missing; one that begins with a minus is written {option}=-3"
    return re.sub(r"^argument ", "", message)
