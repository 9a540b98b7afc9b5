"""Change-overs and disputes, as text (`kb review`)."""

from rich.console import Console

from kb.cli.views.layout import columns, heading, line, point, probability, source
from kb.desk.sentences.numbers import many, number, span
from kb.words.answers.review import ChangeOver, ReviewAnswer

MOST_SIGHTINGS = 12
NEVER = "not yet changed"  # how a serial is named that lies behind the last one known
WORTH_SAYING = 0.05  # display: probabilities and bits below it are left to JSON


def review(answer: ReviewAnswer, console: Console) -> None:
    """Every change-over with its claims and what would narrow it, then what does not agree."""
    for position, changeover in enumerate(answer.changeovers):
        if position:
            console.print()
        _changeover(console, changeover)
    if not answer.changeovers:
        line(console, "No change-over is recorded.", indent=0)
    if answer.replaced_rate:
        rate = answer.replaced_rate
        told = f"{rate.likeliest:.2f} (nine in ten: {rate.low:.2f} to {rate.high:.2f}; {many(rate.sightings, 'sighting')})"
        console.print()
        line(console, f"Castings replaced since, where nobody says: assumed {rate.assumed:.2f}; all sightings together say {told}.", indent=0)
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
    if each.both_to:
        line(console, f"Both were fitted from {each.both_from} to {each.both_to}, while old stock was used up.")
    if mixed:
        beside = ", ".join(f"{many(m.width, 'unit')} {number(m.probability)}" for m in mixed)
        line(console, f"Old stock may have been used up beside the new, over {beside}.")
    if each.claims:
        weighed = any(claim.weight_bits is not None for claim in each.claims)
        rows = [(c.breakpoint_id, c.source, c.says, c.standing, number(c.probability), _bits(c.weight_bits)) for c in each.claims]
        shown = 6 if weighed else 5
        columns(console, ("claim", "source", "says", "stands", "", "bits")[:shown], [row[:shown] for row in rows], right=(4, 5))
    odd = ", ".join(f"{o.sighting_id} {number(o.probability)}" for o in each.odd_sightings)
    line(console, f"{many(each.sightings, 'sighting')} counted" + (f"; probably replaced since: {odd}." if odd else "."))
    _weighed(console, each)
    if each.seek and each.seek.gain_bits >= WORTH_SAYING:
        line(console, f"To narrow it most, look for no. {each.seek.serial} ({each.seek.gain_bits:.2f} bits).")
        for outcome in each.seek.outcomes:
            within = span(outcome.low, outcome.high) if outcome.high else f"{outcome.low} or later"
            variant = each.old_variant if outcome.outcome == "old" else each.new_variant
            point(console, "-", f"{variant} on it ({number(outcome.probability)}): then the first new one lies in {within}.", indent=2)


def _weighed(console: Console, each: ChangeOver) -> None:
    """The sightings that move the change-over; one far from it says what everybody knew."""
    telling = [entry for entry in each.weighed or () if abs(entry.weight_bits) >= WORTH_SAYING]
    if not telling:
        return
    columns(
        console,
        ("sighting", "serial", "saw", "speaks for", "bits", "replaced"),
        [(s.sighting_id, s.serial, s.saw, s.speaks_for, _bits(s.weight_bits), number(s.replaced)) for s in telling[:MOST_SIGHTINGS]],
        right=(4, 5),
    )
    rest = len(each.weighed or ()) - min(len(telling), MOST_SIGHTINGS)
    if rest:
        line(console, f"{many(rest, 'other')} {'adds' if rest == 1 else 'add'} less.")


def _bits(weight: float | None) -> str:
    return "" if weight is None else f"{weight:+.1f}"
