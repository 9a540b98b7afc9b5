"""What is wrong or doubtful in a dataset, as text (`kb check`, `kb build`)."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from kb.desk.sentences.numbers import many
from kb.words.errors import Finding
from kb.words.findings import A_PAGE, MOST_FINDINGS, Group, grouped

if TYPE_CHECKING:
    from kb.store.build import BuildReport
    from loaders.folder import Loaded, Replaced


def plain(loaded: "Loaded") -> dict[str, Any]:
    """Findings, rows by file, and rows that a later folder replaced, as JSON has them."""
    return {
        "findings": [group.as_dict() for severity in ("error", "doubt") for group in _of(loaded.findings, severity)[:MOST_FINDINGS]],
        "rows": loaded.counts,
        "replaced": [{"table": r.table, "key": r.key, "earlier": list(r.earlier), "later": list(r.later)} for r in loaded.replaced],
    }


def findings(found: Sequence[Finding], rows: Mapping[str, int]) -> None:
    """Errors, then doubts, each with its place and its remedy, and a line that sums up.

    Not wrapped: a finding is two lines wherever it goes, so that it can be searched and counted.
    """
    for severity, title in (("error", "Errors"), ("doubt", "Doubts")):
        if mine := _of(found, severity):
            click.echo(title)
            for group in mine[:A_PAGE]:
                click.echo(str(group))
            if len(mine) > A_PAGE:
                left = sum(len(group.places) for group in mine[A_PAGE:])
                click.echo(f"... and {left:,} more. kb check FOLDER -o FILE.csv writes all of them.")
            click.echo()
    click.echo(summary(found, rows))


def _of(found: Sequence[Finding], severity: str) -> list[Group]:
    return grouped(each for each in found if each.severity == severity)


def summary(found: Sequence[Finding], rows: Mapping[str, int]) -> str:
    """How much was read and how much of it is wrong."""
    errors = sum(finding.severity == "error" for finding in found)
    doubts = len(found) - errors
    read = f"{many(sum(rows.values()), 'row')} in {many(len(rows), 'file')}"
    return f"{read}: {many(errors, 'error') if errors else 'no errors'}, {many(doubts, 'doubt') if doubts else 'no doubts'}."


def replaced(rows: "Sequence[Replaced]") -> None:
    """The rows of an earlier folder that a later one replaced."""
    for each in rows:
        click.echo(f"{each.table} {each.key}: {each.later[0]}, row {each.later[1]}, replaces {each.earlier[0]}, row {each.earlier[1]}.")


def built(report: "BuildReport") -> None:
    """The file that was written."""
    private = ", without what is private" if report.public else ""
    estimated = f"{many(report.changeovers, 'change-over')} estimated, {many(report.disputes, 'dispute')} to review"
    click.echo(f"{report.path} built{private}: {estimated}, {report.size / 1e6:.1f} MB.")
