"""`kb check`: everything that is wrong or doubtful in a dataset folder, at once."""

from pathlib import Path

import click

from kb.cli.options import json_option


@click.command("check")
@click.argument("folders", metavar="FOLDER...", nargs=-1, required=True, type=click.Path(path_type=Path))
@json_option
@click.pass_context
def command(ctx: click.Context, folders: tuple[Path, ...], as_json: bool) -> None:
    """List everything that is wrong with the dataset in FOLDER...: file, row, column, and how to mend it.

    Several folders are layers: their rows add up, and a later row with the same key replaces the earlier one. Errors end
    with exit code 1; doubts do not, and are shown as disputes.
    """
    from kb.cli.show import echo_json
    from kb.cli.views.findings import findings, plain, replaced
    from loaders.folder import load

    loaded = load(folders)
    if as_json:
        echo_json(plain(loaded))
    else:
        replaced(loaded.replaced)
        findings(loaded.findings, loaded.counts)
    if loaded.wrong:
        ctx.exit(1)
