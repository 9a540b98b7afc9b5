"""`kb listing`: sentences for a list of parts, as a shop prints them."""

from pathlib import Path

import click

from kb.cli.options import database_option, force_option, json_option
from kb.cli.publishing.lists import each_in_its_row, may_be_written, output_option, part_numbers, write_beside
from kb.desk.sentences.languages import LANGUAGES

_COLUMNS = ("part_here", "sentence", "error")


@click.command("listing")
@click.argument("parts", type=click.Path(path_type=Path))
@click.option("--language", type=click.Choice(LANGUAGES), default="en", show_default=True, help="Language of the sentences.")
@click.option("--length", type=click.IntRange(min=60), metavar="N", help="The most characters in a sentence; it says if something is left out.")
@output_option
@force_option
@database_option
@json_option
def command(parts: Path, language: str, length: int | None, output: Path | None, force: bool, db: str, as_json: bool) -> None:
    """Write a sentence for each of PARTS (.csv, .xlsx, .jsonl or .parquet with a column part) that says which units it fits.

    A sentence promises only what is sure, and names the stretches of serials to check. With --json also as a table.
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import echo_json, write
    from kb.cli.views.layout import line
    from kb.words.answers.trade import Listed

    may_be_written(output, _COLUMNS, [parts, Path(db)], force)
    listed, numbers = part_numbers(parts)
    with KnowledgeBase.open(db) as book:
        answers: list[Listed] = each_in_its_row(
            numbers,
            lambda number: book.listing(number, language, length),
            lambda number, error: Listed(part_number=number, description="", sentence="", units=[], error=error),
        )
    if output:
        plain = [{"part_here": a.part_number if not a.error else "", "sentence": a.sentence, "error": a.error} for a in answers]
        write_beside(output, listed, _COLUMNS, plain)
        click.echo(f"{output}: {len(answers)} parts.", err=True)
    elif as_json:
        echo_json([answer.model_dump(mode="json") for answer in answers])
    else:
        for answer in answers:
            said = f"{answer.part_number}, {answer.description}: {answer.sentence}" if not answer.error else answer.error
            write(lambda console, said=said: line(console, said, indent=0))  # type: ignore[misc]
