"""Change-overs and disputes, as text (`kb review`)."""

from rich.console import Console

from kb.cli.views.layout import bracketed, columns, heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.names import Names
from kb.desk.sentences.numbers import many, number
from kb.words.answers.review import ChangeOver, ReviewAnswer

MOST_SIGHTINGS = 12
WORTH_SAYING = 0.05  # display: probabilities and bits below it are left to JSON


def review(answer: ReviewAnswer, console: Console, names: Names) -> None:
    """Every change-over with its claims and what would narrow it, then what does not agree."""
    for position, changeover in enumerate(answer.changeovers):
        if position:
            console.print()
        _changeover(console, changeover, names)
    if not answer.changeovers:
        line(console, screens.NO_CHANGEOVER, indent=0)
    if answer.replaced_rate:
        rate = answer.replaced_rate
        console.print()
        line(console, screens.rate_told(rate.assumed, rate.likeliest, rate.low, rate.high, rate.sightings), indent=0)
    if answer.disputes:
        heading(console, screens.DISPUTES)
        for dispute in answer.disputes:
            sources = bracketed(", ".join(map(names.source, dispute.sources)))
            subject = names.subject(dispute.subject)
            point(console, "!", (f"{subject}: ", "bold"), f"{names.spoken(dispute.text, subject)}{sources}")


def _changeover(console: Console, each: ChangeOver, names: Names) -> None:
    of = ", ".join(filter(None, [names.series(each.series), f"line {each.line}" if each.line else "", names.model(each.model)]))
    line(console, (each.name, "bold"), f" ({of})", indent=0)
    line(console, screens.first_new_words(each.first_new, each.low, each.high, each.probability))
    mixed = [m for m in each.mixed if m.width and m.probability >= WORTH_SAYING]
    if each.both_to:
        line(console, screens.side_by_side(each.both_from, each.both_to))
    if mixed:
        line(console, screens.old_stock(mixed))
    if each.claims:
        weighed = any(claim.weight_bits is not None for claim in each.claims)
        rows = [(c.breakpoint_id, names.source(c.source), c.says, c.standing, number(c.probability), _bits(c.weight_bits)) for c in each.claims]
        shown = 6 if weighed else 5
        columns(console, ("claim", "source", "says", "stands", "", "bits")[:shown], [row[:shown] for row in rows], right=(4, 5))
    line(console, screens.sightings_counted(each.sightings, [f"{o.sighting_id} ({number(o.probability)})" for o in each.odd_sightings]))
    _weighed(console, each)
    if each.seek and each.seek.gain_bits >= WORTH_SAYING:
        line(console, f"{screens.look_for(each.seek.serial)} ({each.seek.gain_bits:.2f} bits)")
        for outcome in each.seek.outcomes:
            variant = names.variant(each.old_variant if outcome.outcome == "old" else each.new_variant)
            point(console, "-", screens.then_lies(variant, outcome.probability, outcome.low, outcome.high), indent=2)


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
