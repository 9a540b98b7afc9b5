"""What the commands that change a dataset folder have in common."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.words.errors import Finding

if TYPE_CHECKING:
    from kb.dataset.changes import Written

folder_option = click.option(
    "--folder", metavar="FOLDER", default=".", envvar="KB_FOLDER", show_envvar=True, show_default=True, type=click.Path(path_type=Path),
    help="The dataset folder.",
)  # fmt: skip


def show_written(written: "Written", as_json: bool, done: str) -> None:
    """What was done, and the doubts that came with it."""
    from kb.cli.show import echo_json

    if as_json:
        rows = [{"table": row.table, "key": row.key, "file": row.file, "row": row.row} for row in written.rows]
        echo_json({"rows": rows, "unchanged": written.unchanged, "findings": [each.as_dict() for each in written.doubts]})
        return
    for row in written.rows:
        click.echo(f"{row.file}, row {row.row}: {row.key} {done}.")
    if written.unchanged:
        click.echo(f"{written.unchanged} there already.")
    show_doubts(written.doubts)


def show_doubts(doubts: Sequence[Finding]) -> None:
    """Doubts that are new."""
    if doubts:
        click.echo()
        click.secho("Doubts that came with it", bold=True)
        for each in doubts:
            click.echo(str(each))


def given(values: dict[str, Any]) -> dict[str, str]:
    """What was filled in, of all options."""
    return {name: str(text).strip() for name, text in values.items() if text is not None and str(text).strip()}
