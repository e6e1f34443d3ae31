"""Questions on a terminal that are answered with a line: a text, yes or no, the number of what is offered."""

from __future__ import annotations

import click

from counterfoil.faces.cli.common import clean, say


def line(prompt: str) -> str:
    """Ask for a line; Enter alone gives an empty text. Leaves with Abort where the input ends."""
    text: str = click.prompt(prompt, default="", show_default=False, prompt_suffix=" > ")
    return clean(text).strip()


def needed(prompt: str) -> str:
    """Ask for a line until something is typed."""
    while not (text := line(prompt)):
        say("This is needed.")
    return text


def yes(question: str) -> bool:
    """Ask until y or n is typed."""
    while (text := line(f"{question}  y n").lower()) not in ("y", "yes", "n", "no"):
        say("Type y or n.")
    return text.startswith("y")


def choice(number: int, one: str, none: str) -> int | None:
    """Ask for one of some numbered lines; None where Enter says that it is none of them."""
    numbers = "1" if number == 1 else f"1-{number}"
    while text := line(f"{numbers} {one}   Enter: {none}"):
        if text.isdecimal() and 1 <= int(text) <= number:
            return int(text)
        say(f"Type {numbers}, or Enter alone.")
    return None
