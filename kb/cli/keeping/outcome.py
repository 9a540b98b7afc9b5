"""`kb outcome`: what came of a sale, written to the shop's own file."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import click

from kb.cli.keeping.editing import folder_option, given, show_written
from kb.cli.options import json_option
from kb.words.errors import Finding


@click.command("outcome")
@click.argument("part_number")
@click.argument("result", type=click.Choice(["fitted", "returned"]))
@click.option("--because", "reason", metavar="REASON", help="Why it came back: wrong shaft.")
@click.option("--component", "component_id", metavar="ID", help="The component it was for.")
@click.option("--variant", "variant_id", metavar="ID", help="The variant it was fitted to, or did not fit.")
@click.option("--series", "series_id", metavar="ID", help="The series of the serial.")
@click.option("--serial", metavar="SERIAL", help="The unit's serial.")
@click.option("--on", metavar="DATE", help="When; today if not given.")
@click.option(
    "--onto", multiple=True, metavar="FOLDER", type=click.Path(path_type=Path), help="The club's data, if the dataset folder is a layer on it."
)
@folder_option
@json_option
def command(part_number: str, result: str, on: str | None, onto: tuple[Path, ...], folder: Path, as_json: bool, **others: str | None) -> None:
    """Record that PART_NUMBER was fitted or came back: RESULT is fitted or returned. From the next build on it is shown with every verdict.

    outcomes.csv is private: a knowledge base built with --public does not have it. A part that came back from a casting it is said to fit is
    reported as a dispute.
    """
    from kb.dataset import edit
    from loaders.folder import Loaded, load

    def layered(folders: Sequence[Path | str]) -> Loaded:
        return load([*onto, *folders])

    values = given({"part_number": part_number, "result": result, "on": on or date.today().isoformat(), **others})
    if "variant_id" in values and "component_id" not in values:  # the variant says which component it is one of
        variants = layered([folder] if any(folder.glob("*.csv")) else []).dataset.variants
        values |= dict([("component_id", row.component_id) for row in variants if row.variant_id == values["variant_id"]][:1])
    told = {_about(each) for each in layered([]).findings} if onto else set()  # the club's own doubts came with the club's data
    written = edit.add(folder, "outcomes", values, load=layered)
    show_written(replace(written, doubts=tuple(each for each in written.doubts if _about(each) not in told)), as_json, "added")


def _about(finding: Finding) -> tuple[str, int, str, str, str]:
    """What a finding says, without the name of its file, which differs between folders."""
    return Path(finding.file).name, finding.row, finding.column, finding.value, finding.problem
