"""`kb check`: everything that is wrong or doubtful in a dataset folder, at once."""

import csv
import io
from pathlib import Path

import click

from kb.cli.options import force_option, json_option

_COLUMNS = ("severity", "file", "row", "column", "value", "problem", "remedy")


@click.command("check")
@click.argument("folders", metavar="FOLDER...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("-o", "--output", metavar="FILE", type=click.Path(path_type=Path), help="Also write every finding to a CSV file, one a row.")
@force_option
@json_option
@click.pass_context
def command(ctx: click.Context, folders: tuple[Path, ...], output: Path | None, force: bool, as_json: bool) -> None:
    """List everything that is wrong with the dataset in FOLDER...: file, row, column, and how to mend it.

    Several folders are layers: their rows add up, and a later row with the same key replaces the earlier one. Errors end
    with exit code 1; doubts do not, and are shown as disputes.
    """
    from kb.cli.show import echo_json
    from kb.cli.views.findings import findings, plain, replaced
    from kb.output.kinds import answers
    from kb.output.writing import beside, refuse
    from loaders.answerlist import harmless
    from loaders.folder import load

    kind = answers(_COLUMNS)
    if output:
        refuse(output, kind, force=force)
    loaded = load(folders)
    if output:
        with beside(output, kind, force=force) as file:
            text = io.TextIOWrapper(file, encoding="utf-8", newline="")
            writer = csv.writer(text)
            writer.writerow(_COLUMNS)
            writer.writerows([harmless(str(cell)) for cell in each.as_dict().values()] for each in loaded.findings)
            text.detach()
        click.echo(f"{output}: {len(loaded.findings):,} findings.", err=True)
    if as_json:
        echo_json(plain(loaded))
    else:
        replaced(loaded.replaced)
        findings(loaded.findings, loaded.counts)
    if loaded.wrong:
        ctx.exit(1)
