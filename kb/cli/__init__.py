"""The command line: options in, one call of the API, answer out.

Each command is a module of this package, imported when it is asked for. A wrong question or wrong data ends with a message
on standard error and exit code 1, wrong usage with 2; an answer, also "not in this knowledge base", with 0.
"""

from collections.abc import Iterator, Mapping
from importlib import import_module
from typing import Any

import click

from kb.words.errors import KbError

# In the order in which the help shows them: questions first, then the archivist's work.
COMMANDS = ("identify", "casting", "fits", "parts", "units", "trace", "review", "check", "build", "add", "retract", "template")


class _OnDemand(Mapping[str, click.Command]):
    """The commands by name; `kb.cli.NAME.command` is imported when it is asked for, so that each starts as light as it is."""

    def __getitem__(self, name: str) -> click.Command:
        if name not in COMMANDS:
            raise KeyError(name)
        command: click.Command = import_module(f"kb.cli.{name}").command
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

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; an error that a user can act on becomes a message and exit code 1."""
        try:
            return super().invoke(ctx)
        except KbError as error:
            raise WrongQuestion(error) from error


@click.group(cls=Commands, commands=_OnDemand(), context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="casting-kb", message="kb %(version)s")
def main() -> None:
    """What is this old machine, which castings does it carry, and which parts fit it?

    Build a knowledge base from a dataset folder (kb build FOLDER), then ask it.
    """
