"""Change-overs and disputes, as text (`kb review`)."""

from rich.console import Console

from kb.cli.views.layout import columns, heading, line, many, number, point, probability, source, span
from kb.words.answers import ChangeOver, ReviewAnswer

NEVER = "not yet changed"  # how a serial is named that lies behind the last one known
WORTH_SAYING = 0.05  # probabilities and bits below it are left to JSON


def review(answer: ReviewAnswer, console: Console) -> None:
    """Every change-over with its claims and what would narrow it, then what does not agree."""
    for position, changeover in enumerate(answer.changeovers):
        if position:
            console.print()
        _changeover(console, changeover)
    if not answer.changeovers:
        line(console, "No change-over is recorded.", indent=0)
    if answer.disputes:
        heading(console, "Disputes")
        for dispute in answer.disputes:
            point(console, "!", (f"{dispute.subject}: ", "bold"), f"{dispute.text}{source(', '.join(dispute.sources), '')}")


def _changeover(console: Console, each: ChangeOver) -> None:
    of = ", ".join(filter(None, [each.series, f"line {each.line}" if each.line else "", each.model]))
    line(console, (each.name, "bold"), f" ({of})", indent=0)
    first = each.first_new or NEVER
    if each.low == each.high:
        line(console, f"First new: {first}, {probability(each.probability)}.")
    else:
        within = span(each.low, each.high) if each.high else f"{each.low} or later, perhaps {NEVER}"
        line(console, f"First new: nine in ten that it lies in {within}; most likely {first}, {number(each.probability)}.")
    mixed = [m for m in each.mixed if m.width and m.probability >= WORTH_SAYING]
    if mixed:
        beside = ", ".join(f"{many(m.width, 'unit')} {number(m.probability)}" for m in mixed)
        line(console, f"Old stock may have been used up beside the new, over {beside}.")
    if each.claims:
        columns(
            console,
            ("claim", "source", "first new", "stands", ""),
            [(c.breakpoint_id, c.source, c.first_new, c.standing, number(c.probability)) for c in each.claims],
            right=(4,),
        )
    odd = ", ".join(f"{o.sighting_id} {number(o.probability)}" for o in each.odd_sightings)
    line(console, f"{many(each.sightings, 'sighting')} counted" + (f"; probably replaced since: {odd}." if odd else "."))
    if each.seek and each.seek.gain_bits >= WORTH_SAYING:
        line(console, f"To narrow it most, look for no. {each.seek.serial} ({each.seek.gain_bits:.2f} bits).")
