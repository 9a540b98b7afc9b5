"""What a loose casting is off, as text (`kb casting`)."""

import shlex

from rich.console import Console

from kb.cli.views.layout import checks, columns, heading, line, point, probability
from kb.desk.sentences.numbers import characters_apart, number, open_bits, span
from kb.words.answers.identification import CastingAnswer, Match

MOST = 12


def casting(answer: CastingAnswer, console: Console) -> None:
    """The marks that the reading may be, and what they are on."""
    if answer.unknown:
        line(console, ("Not in this knowledge base", "bold"), f": {probability(answer.not_in_knowledge_base)}.", indent=0)
    if answer.matches:
        heading(console, f"{answer.reading} may be")
        columns(console, ("mark", "on", "built with it", ""), [_match(match) for match in answer.matches[:MOST]], right=(3,))
        further = sum(match.probability for match in answer.matches[MOST:])
        if further > 0.00005:  # display
            line(console, f"Further marks together: {number(further)}.")
        if not answer.unknown:
            line(console, f"Not in this knowledge base: {probability(answer.not_in_knowledge_base)}.")
    if answer.near:
        heading(console, f"{answer.reading} is no mark recorded here. Did you mean")
        columns(console, ("mark", "on", ""), [(near.text, near.name, characters_apart(near.apart)) for near in answer.near])
    for said in filter(None, (answer.part_of, answer.elsewhere)):
        line(console, said, indent=0)
    if answer.cannot_tell:
        heading(console, "Cannot be told from this reading")
        for each in answer.cannot_tell:
            point(console, "!", each)
    asked = open_bits([*(match.probability for match in answer.matches), answer.not_in_knowledge_base])
    checks(console, "Look at next", answer.check_next, asked)
    if {"model", "serial_from", "serial_to"} & answer.said.keys():
        mark = shlex.quote(f"{answer.said.get('component', 'COMPONENT')}={answer.reading}")
        command = f"kb identify --serial NUMBER --mark {mark}"
        line(console, f"If any of the unit's number can be read, {command} weighs both together.", indent=0)


def _match(match: Match) -> tuple[str, str, str, str]:
    """A row: the mark as cast, the castings that carry it, the units built with them."""
    serials = span(match.serial_first, match.serial_last)
    built = ", ".join(match.models) + (f" no. {serials}" if serials else "")
    return (match.text, match.name, built.strip(), number(match.probability))
