"""What changed, as text (`kb diff`)."""

from itertools import groupby

from rich.console import Console

from kb.cli.views.layout import heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.numbers import many
from kb.words.answers.review import DiffAnswer


def differences(answer: DiffAnswer, console: Console) -> None:
    """Change-overs first, then rows by kind, then the answers that change."""
    if not answer.changes:
        line(console, screens.NOTHING_CHANGED, indent=0)
    for kind, group in groupby(answer.changes, key=lambda each: each.kind):
        heading(console, f"{kind[:1].upper()}{kind[1:].replace('_', ' ')}")
        for each in group:
            point(console, "-", each.text)
    if answer.questions is None:
        return
    changing = "changes" if len(answer.questions) == 1 else "change"
    heading(console, f"{many(len(answer.questions), 'answer')} of {many(answer.asked, 'question')} {changing}")
    for question in answer.questions:
        point(console, f"{question.row}.", question.question)
        before, after = question.before.split("; "), question.after.split("; ")
        point(console, "-", f"before: {'; '.join(piece for piece in before if piece not in after) or 'no more than now'}", indent=3)
        point(console, "-", f"now: {'; '.join(piece for piece in after if piece not in before) or 'nothing of it'}", indent=3)
