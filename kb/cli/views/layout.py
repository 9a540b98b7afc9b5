"""How all text answers look: quiet headings, indented paragraphs, columns without lines; a verdict or caution stands out by a word first."""

import shlex
from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from kb.desk.sentences import screens
from kb.desk.sentences.checks import worth
from kb.desk.sentences.numbers import many, number
from kb.words.answers.identification import Check

STEP = 2
MOST_CHECKS = 3
MOST_OUTCOMES = 6
WORTH_A_LINE = 0.01  # display: what is less probable is summed up
VERDICT_STYLES = {"fits": "green", "does not fit": "red", "check first": "yellow", "not recorded": "dim"}


def heading(console: Console, text: str) -> None:
    """The first line of a section, after an empty line."""
    console.print()
    console.print(Text(text, style="bold"))


def line(console: Console, *pieces: str | tuple[str, str], indent: int = 1) -> None:
    """One paragraph, wrapped and indented; a piece may carry a style."""
    console.print(Padding(Text.assemble(*pieces), (0, 0, 0, STEP * indent)))


def point(console: Console, mark: str, *pieces: str | tuple[str, str], indent: int = 1) -> None:
    """A paragraph that hangs from a mark: "1." or "-"."""
    table = Table.grid(padding=(0, 1, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column(ratio=1)
    table.add_row(mark, Text.assemble(*pieces))
    console.print(Padding(table, (0, 0, 0, STEP * indent)))


def columns(console: Console, head: Sequence[str], rows: Iterable[Sequence[str | Text]], right: Iterable[int] = ()) -> None:
    """A table without lines; cells wrap. right: the columns that are set to the right."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim", show_header=any(head))
    for position, name in enumerate(head):
        table.add_column(name, justify="right" if position in right else "left", overflow="fold")
    for row in rows:
        table.add_row(*row)
    console.print(Padding(table, (0, 0, 0, STEP)))


def at(component: str, place: str) -> str:
    """A component, with its place if it has several."""
    return f"{component} ({place})" if place else component


def bracketed(reference: str) -> str:
    """Where a statement stands, in brackets; "" if nothing is cited."""
    return f" [{reference}]" if reference else ""


def checks(console: Console, title: str, found: Sequence[Check], asked_bits: float) -> None:
    """The first checks to make, with what the likeliest outcomes would mean; JSON has all of them.

    asked_bits: how open what was asked is, against which a check is measured.
    """
    if not found:
        return
    heading(console, title)
    for position, check in enumerate(found[:MOST_CHECKS], 1):
        point(console, f"{position}.", check.check, (f"  ({worth(check.gain_bits, asked_bits, check.effort)})", "dim"))
        for outcome in check.outcomes[:MOST_OUTCOMES]:
            point(console, "-", f"{outcome.outcome}: {outcome.means}", indent=3)
        if len(check.outcomes) > MOST_OUTCOMES:
            further = check.outcomes[MOST_OUTCOMES:]
            point(console, "-", f"{many(len(further), 'other')}: {number(sum(outcome.probability for outcome in further))} together", indent=3)
        if looked := next((outcome.adds["again"] for outcome in check.outcomes if "again" in outcome.adds), None):
            line(console, screens.then_again(shlex.quote(looked)), indent=3)


def cautions(console: Console, found: Sequence[str]) -> None:
    """What to take care of; never left out and never dimmed."""
    if found:
        heading(console, screens.TAKE_CARE)
        for caution in found:
            point(console, "!", (caution, "bold"))
