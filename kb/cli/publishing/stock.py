"""`kb stock`: a stock list checked against the knowledge base."""

from pathlib import Path

import click

from kb.cli.options import database_option, force_option, json_option
from kb.cli.publishing.lists import may_be_written, output_option, part_numbers, write_beside


@click.command("stock")
@click.argument("stock", type=click.Path(path_type=Path))
@output_option
@force_option
@database_option
@json_option
def command(stock: Path, output: Path | None, force: bool, db: str, as_json: bool) -> None:
    """Which numbers of STOCK (.csv, .xlsx, .jsonl or .parquet with a column part) are superseded, two numbers for one thing, or unknown here?

    For an unknown number it lists the known ones that may be meant; for a known one, what it has become and which units it fits.
    """
    from kb.api import KnowledgeBase
    from kb.cli.show import echo_json, write
    from kb.cli.views.stocked import TELLING, columns_of, stocked

    may_be_written(output, TELLING, [stock, Path(db)], force)
    listed, numbers = part_numbers(stock)
    with KnowledgeBase.open(db) as book:
        answers = book.stock(numbers)
    if output:
        plain = [columns_of(answer) for answer in answers]
        write_beside(output, listed, list(plain[0]) if plain else TELLING, plain)
        click.echo(f"{output}: {len(answers)} numbers.", err=True)
    elif as_json:
        echo_json([answer.model_dump(mode="json") for answer in answers])
    else:
        write(lambda console: stocked(answers, console))
