"""Change-overs and disputes, as text (`kb review`)."""

from rich.console import Console

from kb.cli.views.layout import columns, heading, line, many, number, point, probability, source, span
from kb.words.answers import ChangeOver, ReviewAnswer

NEVER = "not yet changed"  # how a serial is named that lies behind the last one known


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
    line(console, (f"{each.component}: {each.old_variant or 'from the start'} -> {each.new_variant}", "bold"), f" ({of})", indent=0)
    within = span(each.low, each.high) if each.high else f"{each.low} or later, perhaps {NEVER}" if each.low else NEVER
    line(console, f"First new: {each.first_new or NEVER}, {probability(each.probability)}. Nine in ten: {within}.")
    mixed = ", ".join(f"{m.width} units {number(m.probability)}" if m.width else f"none {number(m.probability)}" for m in each.mixed)
    if mixed:
        line(console, f"Old stock used up beside the new: {mixed}.")
    if each.claims:
        columns(
            console,
            ("claim", "source", "first new", "stands", ""),
            [(c.breakpoint_id, c.source, c.first_new, c.standing, number(c.probability)) for c in each.claims],
            right=(4,),
        )
    odd = ", ".join(f"{o.sighting_id} {number(o.probability)}" for o in each.odd_sightings)
    line(console, f"{many(each.sightings, 'sighting')} counted" + (f"; probably replaced since: {odd}." if odd else "."))
    if each.seek:
        line(console, f"To narrow it most, look for no. {each.seek.serial} ({each.seek.gain_bits:.2f} bits).")
