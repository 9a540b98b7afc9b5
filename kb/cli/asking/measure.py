"""`kb measure`: is a measure of a step within its limits, and which shims would bring it there."""

import click
from rich.console import Console

from kb.cli.options import database_option, json_option, read_unit
from kb.words.answers.workshop import MeasureAnswer, PackEntry


@click.command("measure", context_settings={"ignore_unknown_options": True})
@click.argument("step")
@click.argument("value")
@click.option("--at-hand", "shims", multiple=True, metavar="PART=COUNT", help="A shim you have and how many; without this, those in the step's kits.")
@click.option("--unit", metavar="FILE", help="A unit kept by kb identify --save, to check that the step applies to it.")
@database_option
@json_option
def command(step: str, value: str, shims: tuple[str, ...], unit: str | None, db: str, as_json: bool) -> None:
    """Is VALUE, measured in STEP, within the limits? If not, which shims at hand bring it there?

    STEP is the id printed on the work sheet; VALUE is a number with or without a unit: 0.35, 0.35mm, 0.014in. Without a unit, it is in the
    unit of the step.
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import show
    from kb.desk.workshop.measure import at_hand

    with KnowledgeBase.open(db) as book:
        found = read_unit(unit) if unit else None
        show(book.measure(step, value, at_hand(shims), found), as_json, _view)


def _view(answer: MeasureAnswer, console: Console) -> None:
    from kb.cli.views.layout import heading, line, point

    line(console, ("WITHIN  " if answer.within else "OUTSIDE  ", "bold"), answer.says, indent=0)
    if answer.applies:
        line(console, answer.applies, indent=0)
    for title, pack in zip(("Put in", "Or, next best"), answer.packs, strict=False):
        heading(console, title)
        point(console, "-", _pack(pack, answer))
    console.print()
    line(console, answer.again, indent=0)


def _pack(pack: PackEntry, answer: MeasureAnswer) -> str:
    pieces = ", ".join(f"{count} x {name}" for name, count in pack.pieces.items())
    return f"{pieces}: {pack.thickness:g} mm; {answer.what} should then be {pack.result:g} {answer.unit}"
