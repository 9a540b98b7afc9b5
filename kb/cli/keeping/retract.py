"""`kb retract`: a claim that no longer holds is kept, with the reason."""

from pathlib import Path

import click

from kb.cli.keeping.editing import folder_option, show_written
from kb.cli.options import json_option


@click.command("retract")
@click.argument("key", metavar="ID")
@click.option("--because", metavar="REASON", required=True, help="Why it is no longer believed.")
@click.option("--table", metavar="TABLE", help="The file it is in, if the id is in several: breakpoints, sightings, ...")
@folder_option
@json_option
def command(key: str, because: str, table: str | None, folder: Path, as_json: bool) -> None:
    """Withdraw the breakpoint, sighting, fitment, supersession or block ID.

    The row is kept, with the reason, but no longer used. Nothing is ever deleted.
    """
    from kb.dataset import edit
    from kb.words.errors import DataError
    from kb.words.records import TABLES
    from loaders.folder import load

    if table is not None and table not in TABLES:
        raise DataError(f'There is no file "{table}.csv" in a dataset.', f"Write one of: {', '.join(TABLES)}.")
    show_written(edit.retract(folder, key, because, load=load, table=table), as_json, "retracted")
