"""From an answer to standard output: JSON, or text that reads well at 80 columns.

Colours only on a terminal and not with NO_COLOR (https://no-color.org); in a pipe plain text, 80 columns wide.
"""

import json
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click
from pydantic import BaseModel

if TYPE_CHECKING:
    from rich.console import Console

    from kb.desk.sentences.names import Names

WIDEST = 100  # longer lines are hard to read, however wide the terminal
IN_A_PIPE = 80
Answer = TypeVar("Answer", bound=BaseModel | Sequence[BaseModel])


def show(answer: Answer, as_json: bool, view: Callable[..., None], *names: "Names") -> None:
    """Print an answer, or a list of answers. names: of what it speaks of, for a view that says more than the answer itself calls by name."""
    if as_json:
        echo_json(answer.model_dump(mode="json") if isinstance(answer, BaseModel) else [each.model_dump(mode="json") for each in answer])
    else:
        write(lambda console: view(answer, console, *names))


def echo_json(plain: Any) -> None:
    """Print plain values as JSON."""
    click.echo(json.dumps(plain, ensure_ascii=False, indent=2))


def write(draw: Callable[["Console"], None]) -> None:
    """Print text. Nothing in it is interpreted as markup; in a pipe no line ends in spaces."""
    from rich.console import Console

    terminal = sys.stdout.isatty()
    console = Console(highlight=False, markup=False, emoji=False, width=None if terminal else IN_A_PIPE, color_system="auto" if terminal else None)
    if terminal:
        console.width = min(console.width, WIDEST)
        draw(console)
        return
    with console.capture() as text:
        draw(console)
    click.echo("\n".join(line.rstrip() for line in text.get().strip("\n").splitlines()))
