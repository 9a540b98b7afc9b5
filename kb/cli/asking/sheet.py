"""`kb sheet`: the work sheet for an assembly of a unit, to print and take to the machine."""

from pathlib import Path

import click

from kb.cli.options import database_option, evidence_options, force_option, json_option
from kb.words.answers.workshop import Sheet
from kb.words.evidence import Evidence


@click.command("sheet")
@click.option("--assembly", required=True, metavar="NAME", help="The assembly to work on, as in kb parts.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="The file to write; without it, ASSEMBLY-sheet.html.")
@click.option("--pdf", "as_pdf", is_flag=True, help="Write a PDF instead (needs WeasyPrint).")
@click.option("--site", metavar="URL", envvar="KB_SITE", show_envvar=True, help="The address of the site, for the code on the sheet.")
@force_option
@evidence_options
@database_option
@json_option
def command(
    assembly: str, output: Path | None, as_pdf: bool, site: str | None, force: bool, evidence: Evidence, replaced_rate: float | None, db: str,
    as_json: bool,
) -> None:  # fmt: skip
    """Write the work sheet for an assembly: the steps that apply to this unit, with parts, measures and cautions.

    Steps for castings that the unit does not have are left out; where that is open, both are printed, with what to look at first.

    \b
      kb sheet --assembly pump --serial C1542 --mark pump-cover@left=80-C36
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import echo_json

    with KnowledgeBase.open(db) as book:
        sheet = book.sheet(evidence, assembly, replaced_rate=replaced_rate)
        if as_json:
            echo_json(sheet.model_dump(mode="json"))
            return
        from kb.desk.workshop.print import page
        from kb.desk.workshop.print.sheet import html

        text = html(sheet, book.names, site or "")
    target = output or Path(f"{assembly}-sheet.{'pdf' if as_pdf else 'html'}")
    if as_pdf:
        page.pdf(text, target, force=force)
    else:
        page.write(target, text.encode(), force=force)
    click.echo(f"{target}: {told_in_short(sheet)}")


def told_in_short(sheet: Sheet) -> str:
    """What is on the sheet, for the terminal."""
    steps = [step for procedure in sheet.procedures for step in procedure.steps]
    undecided = sum(step.state == "undecided" for step in steps)
    return f"{len(steps)} steps" + (f", {undecided} of them undecided: the sheet says what to look at first" if undecided else "")
