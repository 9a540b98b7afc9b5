"""`kb guide`: the field guide of a model as one file."""

from pathlib import Path

import click

from kb.cli.options import database_option, force_option, json_option


@click.command("guide")
@click.argument("model")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="The file to write; without it, MODEL-guide.html.")
@force_option
@database_option
@json_option
def command(model: str, output: Path | None, force: bool, db: str, as_json: bool) -> None:
    """Write the field guide of MODEL (id or name): one HTML file that works without a network.

    It shows where the numbers are stamped, castings side by side, casting dates, which checks tell most for their minutes, and
    a look-up of serials.
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import echo_json

    with KnowledgeBase.open(db) as book:
        guide = book.guide(model)
    if as_json:
        echo_json(guide.model_dump(mode="json"))
        return
    from kb.desk.workshop.print.guide import html
    from kb.desk.workshop.print.page import write

    target = output or Path(f"{model}-guide.html")
    write(target, html(guide).encode(), force=force)
    click.echo(f"{target}: {guide.name}, {len(guide.components)} components, {target.stat().st_size / 1024:.0f} KB")
