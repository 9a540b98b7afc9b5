"""`kb import`: other people's lists and workbooks into a dataset folder."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.keeping.editing import folder_option, show_doubts, show_written
from kb.cli.options import json_option

if TYPE_CHECKING:
    from kb.dataset.changes import Change, Written
    from loaders.listing import Listing
    from loaders.rejects import Rejected

_file = click.argument("file", metavar="FILE", type=click.Path(path_type=Path))
_rejects = click.option(
    "--rejects", metavar="FILE", type=click.Path(path_type=Path), help="Where to write rows that are not taken [NAME.rejects.csv beside the list]."
)


@click.group("import")
def command() -> None:
    """Import a list into a dataset folder: a year list, a supplier's parts, the answers of a form, or a workbook.

    Good rows are added in one step; the others go to a rejects file, with the reason. Importing a list again adds nothing twice.
    """


@command.command("sightings")
@_file
@click.option("--mapping", metavar="TOML", type=click.Path(path_type=Path), help="Which heading is which column, if they are not our column names.")
@_rejects
@folder_option
@json_option
@click.pass_context
def sightings(ctx: click.Context, file: Path, mapping: Path | None, rejects: Path | None, folder: Path, as_json: bool) -> None:
    """Sightings from FILE, the export of a form: CSV, XLSX or JSON Lines."""
    from kb.dataset import edit
    from kb.words.dataset import Dataset
    from loaders import forms
    from loaders.folder import load

    out = _rejects_file(file, rejects)
    _progress(f"Reading {file.name}")
    form, rows = forms.read(file, mapping)
    planned: list[Change] = []
    choose = forms.unknown_yet(rows)

    def plan(dataset: Dataset) -> "Sequence[Change]":
        planned.extend(choose(dataset))
        return planned

    _progress(f"Checking {len(rows)} rows")
    written = edit.apply(folder, plan, load=load, partly=True)
    known = len(rows) - len(planned)
    _done(ctx, form, planned, written, out, as_json, f"{known} there already." if known else "")


@command.command("parts")
@_file
@click.option("--mapping", metavar="TOML", required=True, type=click.Path(path_type=Path), help="Which heading of the list is which column.")
@_rejects
@folder_option
@json_option
@click.pass_context
def parts(ctx: click.Context, file: Path, mapping: Path, rejects: Path | None, folder: Path, as_json: bool) -> None:
    """A supplier's parts list FILE, CSV or XLSX: new parts, what can be bought, supersessions.

    It reports what is new, changed, described differently, or unknown. Existing descriptions are not overwritten.
    """
    from kb.dataset import edit
    from loaders import partslist
    from loaders.folder import load

    out = _rejects_file(file, rejects)
    _progress(f"Reading {file.name}")
    listed = partslist.read(file, mapping)
    _progress(f"Checking {len(listed.rows)} rows")
    written = edit.apply(folder, listed.plan, load=load, partly=True)
    lines = []
    for each in listed.report(written.rejected):
        said = " -> ".join(filter(None, [each.before, each.now]))
        lines.append(f"{each.kind}: {each.part_number}{f' ({said})' if said else ''}")
    if any(line.startswith("unknown: ") for line in lines) and not listed.add_new:
        lines.append(f"Numbers that are unknown are only added if {mapping.name} begins with: add_new = true")
    _done(ctx, listed.listing, listed.planned, written, out, as_json, "\n".join(lines))


@command.command("years")
@_file
@click.option("--series", metavar="ID", required=True, help="The series of the serials.")
@click.option("--source", metavar="ID", required=True, help="The source that the list comes from.")
@click.option("--page", metavar="PAGE", help="Page or figure in the source.")
@click.option("--model", metavar="ID", help="The model of all blocks, if there is only one.")
@click.option("--line", metavar="ID", help="The plant or line, if the list has a single column; with several columns each heading is one.")
@click.option("--dates-are", type=click.Choice(["built", "shipped", "registered", "model year"]), help="What the dates of the list are dates of.")
@click.option("--last", metavar="[PLANT=]SERIAL", multiple=True, help="The last serial of all, or of a plant.")
@_rejects
@folder_option
@json_option
@click.pass_context
def years(
    ctx: click.Context, file: Path, series: str, source: str, page: str | None, model: str | None, line: str | None, dates_are: str | None,
    last: tuple[str, ...], rejects: Path | None, folder: Path, as_json: bool,
) -> None:  # fmt: skip
    """A year list FILE, "year, first serial", as CSV, XLSX or pasted text (.txt), into blocks.

    A block ends before the next first serial, so one wrong row makes others wrong; then nothing is taken.
    """
    from kb.cli.keeping.editing import given
    from kb.dataset import edit
    from kb.dataset.changes import Refused
    from loaders import yearlist
    from loaders.folder import load
    from loaders.rejects import Rejected, write

    listed = yearlist.read(file)
    common = given({"source_id": source, "page": page, "model_id": model, "line": line, "dates_are": dates_are})
    lasts = {plant if equals else "": serial for plant, equals, serial in ((p.strip(), e, s.strip()) for p, e, s in (_split(each) for each in last))}
    out = _rejects_file(file, rejects)
    try:
        if listed.listing.findings:
            raise Refused(listed.listing.findings)
        written = edit.apply(folder, listed.plan(series, common, lasts), load=load)
    except Refused as refused:
        rows = dict(listed.listing.rows)
        late = [Rejected(each.file, each.row, rows.get(each.row, {}), (each,)) for each in refused.findings if each.file == listed.listing.file]
        write(out, listed.listing.rejected or late)
        raise
    write(out, [])
    show_written(written, as_json, "added")


@command.command("workbook")
@_file
@_rejects
@folder_option
@json_option
def workbook(file: Path, rejects: Path | None, folder: Path, as_json: bool) -> None:
    """A workbook FILE (XLSX) that kb template wrote, filled in: all its sheets, or nothing."""
    from kb.dataset import edit
    from loaders import workbook
    from loaders.folder import load
    from loaders.rejects import write

    _progress(f"Reading {file.name}")
    book = workbook.read(file)
    write(_rejects_file(file, rejects), book.rejected)
    folder.mkdir(exist_ok=True)
    written = edit.apply(folder, lambda dataset: workbook.changes(book, folder), load=load)
    if as_json:
        show_written(written, as_json, "")
    else:
        _counted(written)
        show_doubts(written.doubts)


def _done(
    ctx: click.Context, listing: "Listing", planned: "Sequence[Change]", written: "Written", out: Path, as_json: bool, more: str
) -> None:
    """Report, write the rejects, and end with exit code 1 if there are any."""
    from kb.cli.show import echo_json
    from kb.words.findings import A_PAGE, grouped
    from loaders.rejects import write

    rejected: list[Rejected] = listing.not_taken(planned, written.rejected)
    write(out, rejected)
    if as_json:
        rows = [{"table": row.table, "key": row.key, "file": row.file, "row": row.row} for row in written.rows]
        findings = [finding.as_dict() for each in rejected for finding in each.findings] + [each.as_dict() for each in written.doubts]
        echo_json({"rows": rows, "unchanged": written.unchanged, "rejected": len(rejected), "findings": findings, "report": more.splitlines()})
    else:
        _counted(written)
        if more:
            click.echo(more)
        show_doubts(written.doubts)
        groups = grouped(finding for each in rejected for finding in each.findings)
        for group in groups[:A_PAGE]:
            click.echo(str(group), err=True)
        if len(groups) > A_PAGE:
            click.echo(f"... and {sum(len(group.places) for group in groups[A_PAGE:]):,} more.", err=True)
        if rejected:
            rows_were = "row was" if len(rejected) == 1 else "rows were"
            click.echo(f"{len(rejected)} {rows_were} not taken: see {out}, which says why.", err=True)
    if rejected:
        ctx.exit(1)


def _counted(written: "Written") -> None:
    """How many rows of each file are new or changed."""
    rows: dict[str, set[str]] = {}
    for row in written.rows:
        rows.setdefault(row.table, set()).add(row.key)
    for table, keys in rows.items():
        click.echo(f"{table}: {len(keys)} new or changed.")
    if not rows:
        click.echo("Nothing is new.")


def _rejects_file(file: Path, rejects: Path | None) -> Path:
    """Where rows go that are not taken; refused before anything is imported if something else stands there."""
    from loaders.rejects import may_be_written, name_for

    out = rejects or name_for(file)
    may_be_written(out)
    return out


def _split(text: str) -> tuple[str, str, str]:
    """[PLANT=]SERIAL."""
    plant, equals, serial = text.partition("=")
    return (plant, equals, serial) if equals else ("", "", text)


def _progress(what: str) -> None:
    """What is being done, on a terminal."""
    if sys.stderr.isatty():
        click.echo(f"{what} ...", err=True)
