"""`kb outcome`: what came of a sale, written into the shop's own file."""

from datetime import date
from pathlib import Path

import click

from kb.cli.editing import folder_option, given, show_written
from kb.cli.options import json_option


@click.command("outcome")
@click.argument("part_number")
@click.argument("result", type=click.Choice(["fitted", "returned"]))
@click.option("--because", "reason", metavar="REASON", help="Why it came back: wrong shaft.")
@click.option("--component", "component_id", metavar="ID", help="The component it was for.")
@click.option("--variant", "variant_id", metavar="ID", help="The variant it was fitted to, or did not fit.")
@click.option("--series", "series_id", metavar="ID", help="The series of the serial.")
@click.option("--serial", metavar="SERIAL", help="The unit's serial.")
@click.option("--on", metavar="DATE", help="When; today if not given.")
@folder_option
@json_option
def command(part_number: str, result: str, on: str | None, folder: Path, as_json: bool, **others: str | None) -> None:
    """Record that PART_NUMBER was fitted, or came back: RESULT is fitted or returned. It is shown with every verdict from the next build on.

    outcomes.csv is private: a knowledge base built with --public does not have it. A part that came back from a casting it is said to fit is
    reported as a dispute.
    """
    from kb.dataset import edit
    from loaders.folder import load

    values = given({"part_number": part_number, "result": result, "on": on or date.today().isoformat(), **others})
    show_written(edit.add(folder, "outcomes", values, load=load), as_json, "added")
