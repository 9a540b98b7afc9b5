"""`kb sighting`: a finished examination as rows for the archivist."""

from pathlib import Path
from typing import Literal

import click

from kb.cli.options import database_option, force_option, json_option, read_unit


@click.command("sighting")
@click.argument("unit")
@click.option(
    "--original", type=click.Choice(["believed", "unknown", "replaced"]), default="unknown", show_default=True, help="Are the castings original?"
)
@click.option("--seen-on", metavar="DATE", default="", help="When the unit was seen: 2024 or 2024-05-17.")
@click.option("--observer", metavar="NAME", default="", help="Who saw it. Private: passed on only if you give it here.")
@click.option("--evidence", "proof", metavar="TEXT", default="", help="Photograph, letter. Private: passed on only if you give it here.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="The CSV file to write; without it, standard output.")
@force_option
@database_option
@json_option
def command(
    unit: str,
    original: Literal["believed", "unknown", "replaced"],
    seen_on: str,
    observer: str,
    proof: str,
    output: Path | None,
    force: bool,
    db: str,
    as_json: bool,
) -> None:
    """Turn UNIT, a file that kb identify --save wrote, into rows of sightings.csv.

    There is a row for each casting number read and each variant seen; what was only inferred is not a sighting. Check the rows, then add
    them to the dataset with kb add sighting or a spreadsheet.
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import echo_json
    from kb.desk.workshop.sighting import as_csv, columns
    from kb.words import edtf

    if seen_on:
        edtf.parse(seen_on)
    evidence = read_unit(unit)
    private = {name: value for name, value in (("observer", observer), ("evidence", proof)) if value}
    with KnowledgeBase.open(db) as book:
        rows = columns(book.sightings(evidence), original=original, seen_on=seen_on, **private)
    if as_json:
        echo_json(rows)
        return
    text = as_csv(rows)
    if output is None:
        click.echo(text.replace("\r\n", "\n"), nl=False)
        return
    from kb.output.kinds import answers
    from kb.output.writing import write

    write(output, text.encode(), answers(["sighting_id", "serial", "component_id"]), inputs=[Path(unit), Path(db)], force=force)
    click.echo(f"{output}: {len(rows)} {'row' if len(rows) == 1 else 'rows'}")
