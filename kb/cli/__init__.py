"""The command line: options in, one call of the API, answer out.

Each command is a module of one of the rooms, imported when it is asked for. A wrong question or wrong data ends with a message
on standard error and exit code 1, wrong usage with 2; an answer, also "not in this knowledge base", with 0.
"""

import errno
import io
import sys
from collections.abc import Iterator, Mapping
from importlib import import_module
from keyword import iskeyword
from typing import Any

import click

from kb.words.errors import KbError

# What each command does, by group, in the order of the help. It stands here so that the help need not import them all.
GROUPS = {
    "Questions": {
        "identify": "What is this unit, and which castings does it carry?",
        "casting": "What is a loose casting off?",
        "fits": "Does a part fit the unit?",
        "parts": "Which parts fit the unit?",
        "units": "Which units does a part fit?",
        "trace": "What can be bought today for a part number?",
        "sell": "What to say to a customer: verdict, question, order?",
        "batch": "A list of inquiries: each row answered.",
        "find": "Which part is this number, this size, this place in the book?",
        "look": "What may a number or a word mean here?",
        "compare": "How do the variants of a component differ?",
        "review": "When did the castings change, and who says so?",
    },
    "At the machine": {
        "sheet": "The work sheet for an assembly, to print.",
        "sighting": "An examined unit as rows for the archivist.",
        "guide": "The field guide of a model, for the phone or to print.",
        "measure": "Is a measure within its limits, and which shims help?",
    },
    "Dataset": {
        "check": "List everything that is wrong with a dataset.",
        "build": "Build the database from a dataset.",
        "add": "Add a row: a source, a breakpoint, a sighting, a part.",
        "outcome": "Record that a part was fitted or came back.",
        "retract": "Withdraw a row; it is kept, with the reason.",
        "import": "Import a list: years, parts, sightings, a workbook.",
        "diff": "What changed between two datasets?",
        "template": "Make an empty dataset to fill in.",
    },
    "Publishing": {
        "listing": "Sentences for a list of parts, in a choice of languages.",
        "stock": "Which numbers of a stock list are superseded or unknown?",
        "serve": "Serve the database as web pages.",
        "verify": "Is a database whole, byte for byte as it was built?",
    },
}
ROOMS = {"Questions": "asking", "At the machine": "asking", "Dataset": "keeping", "Publishing": "publishing"}  # where a group's commands stand
COMMANDS = {name: ROOMS[title] for title, group in GROUPS.items() for name in group}


class _OnDemand(Mapping[str, click.Command]):
    """The commands by name. The module of a command is imported only when it is needed, so that each command starts quickly."""

    def __getitem__(self, name: str) -> click.Command:
        if name not in COMMANDS:
            raise KeyError(name)
        module = f"{name}_" if iskeyword(name) else name
        command: click.Command = import_module(f"kb.cli.{COMMANDS[name]}.{module}").command
        return command

    def __iter__(self) -> Iterator[str]:
        return iter(COMMANDS)

    def __len__(self) -> int:
        return len(COMMANDS)


class WrongQuestion(click.ClickException):
    """A KbError as the command line reports it: what is wrong, and below it how to mend it."""

    def __init__(self, error: KbError) -> None:
        super().__init__(f"{error.problem}\n{error.remedy}".rstrip())


class Commands(click.Group):
    """A group whose commands report what is wrong in a message, never in a traceback."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names in the order of the help."""
        return list(self.commands)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands in the help."""
        for title, group in GROUPS.items():
            with formatter.section(title):
                formatter.write_dl(list(group.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; an error that a user can act on becomes a message and exit code 1."""
        try:
            return super().invoke(ctx)
        except KbError as error:
            raise WrongQuestion(error) from error
        except OSError as error:
            if error.errno not in (errno.ENOSPC, errno.EIO):
                raise
            raise click.ClickException(f"The answer could not be written: {error.strerror}.") from error


@click.group(cls=Commands, commands=_OnDemand(), context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="casting-kb", message="kb %(version)s")
def main() -> None:
    """What is this old machine, which castings does it carry, and which parts fit it?

    Build a knowledge base from a dataset folder (kb build FOLDER), then ask it.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a name that the terminal cannot show is no reason to show nothing
