"""What a part number has become, as text (`kb trace`)."""

from rich.console import Console

from kb.cli.views.layout import bracketed, heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.names import Names
from kb.words.answers.fitment import TraceAnswer, TraceStep


def trace(answer: TraceAnswer, console: Console, names: Names) -> None:
    """What can be bought today, then the way there."""
    if answer.dead_end:
        line(console, (f"{answer.asked}: ", "bold"), screens.DEAD_END, indent=0)
    else:
        line(console, (f"{answer.asked}: {screens.TO_BUY.lower()}", "bold"), indent=0)
        for current in answer.current:
            point(console, "-", f"{current.quantity:g} x {current.part_number}" if current.quantity != 1 else current.part_number)
    if answer.steps:
        heading(console, "Superseded")
        for step in answer.steps:
            _step(console, step, names)
    if answer.notes:
        heading(console, "Note")
        for note in answer.notes:
            point(console, "-", note)


def _step(console: Console, step: TraceStep, names: Names) -> None:
    arrow = "<->" if step.direction == "both-ways" else "->"
    new = f"{step.quantity:g} x {step.new}" if step.quantity != 1 else step.new
    point(console, "-", f"{step.old} {arrow} {new}{': ' + step.condition if step.condition else ''}{bracketed(names.reference(step.source))}")
