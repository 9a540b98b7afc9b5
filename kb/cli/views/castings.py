"""What a loose casting is off, as text (`kb casting`)."""

import shlex

from rich.console import Console

from kb.cli.views.layout import checks, columns, heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.names import Names
from kb.desk.sentences.numbers import characters_apart, number, open_bits, span
from kb.words.answers.identification import CastingAnswer, Match

MOST = 12


def casting(answer: CastingAnswer, console: Console, names: Names) -> None:
    """The marks that the reading may be, and what they are on."""
    if answer.unknown:
        line(console, (screens.NOT_HERE, "bold"), screens.not_here_line(answer.not_in_knowledge_base).removeprefix(screens.NOT_HERE), indent=0)
    if answer.matches:
        heading(console, screens.may_be(answer.reading))
        columns(console, ("mark", "on", "built with it", ""), [_match(match, names) for match in answer.matches[:MOST]], right=(3,))
        further = sum(match.probability for match in answer.matches[MOST:])
        if further > 0.00005:  # display
            line(console, screens.further_marks(further))
        if not answer.unknown:
            line(console, screens.not_here_line(answer.not_in_knowledge_base))
    if answer.near:
        heading(console, screens.no_such_mark_here(answer.reading))
        columns(console, ("mark", "on", ""), [(near.text, near.name, characters_apart(near.apart)) for near in answer.near])
    for said in filter(None, (answer.part_of, answer.elsewhere)):
        line(console, said, indent=0)
    if answer.cannot_tell:
        heading(console, screens.CANNOT_TELL)
        for each in answer.cannot_tell:
            point(console, "!", each)
    asked = open_bits([*(match.probability for match in answer.matches), answer.not_in_knowledge_base])
    checks(console, screens.LOOK_NEXT, answer.check_next, asked)
    if {"model", "serial_from", "serial_to"} & answer.said.keys():
        mark = shlex.quote(f"{names.component(answer.said.get('component', 'COMPONENT'))}={answer.reading}")
        command = f"kb identify --serial NUMBER --mark {mark}"
        line(console, screens.weigh_together(command), indent=0)


def _match(match: Match, names: Names) -> tuple[str, str, str, str]:
    """A row: the mark as cast, the castings that carry it, the units built with them."""
    serials = span(match.serial_first, match.serial_last)
    built = ", ".join(map(names.model, match.models)) + (f" no. {serials}" if serials else "")
    return (match.text, match.name, built.strip(), number(match.probability))
