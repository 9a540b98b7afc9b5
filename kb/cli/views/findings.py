"""What is wrong or doubtful in a dataset, as text (`kb check`, `kb build`)."""

from collections.abc import Mapping, Sequence

import click

from kb.cli.views.layout import many
from kb.words.errors import Finding


def findings(found: Sequence[Finding], rows: Mapping[str, int]) -> None:
    """Errors, then doubts, each with its place and its remedy, and a line that sums up.

    Not wrapped: a finding is two lines wherever it goes, so that it can be searched and counted.
    """
    for severity, title in (("error", "Errors"), ("doubt", "Doubts")):
        mine = [finding for finding in found if finding.severity == severity]
        if mine:
            click.echo(title)
            for finding in mine:
                click.echo(str(finding))
            click.echo()
    click.echo(summary(found, rows))


def summary(found: Sequence[Finding], rows: Mapping[str, int]) -> str:
    """How much was read and how much of it is wrong."""
    errors = sum(finding.severity == "error" for finding in found)
    doubts = len(found) - errors
    read = f"{many(sum(rows.values()), 'row')} in {many(len(rows), 'file')}"
    return f"{read}: {many(errors, 'error') if errors else 'no errors'}, {many(doubts, 'doubt') if doubts else 'no doubts'}."
