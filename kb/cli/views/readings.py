"""What confirmed readings taught, as text (`kb review --readings`)."""

from rich.console import Console

from kb.cli.views.layout import columns, heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.numbers import many
from kb.words.answers.review import ReadingsReview

MOST_MISREADINGS = 12
MOST_LEFT_OUT = 12


def readings(answer: ReadingsReview, console: Console) -> None:
    """How many taught what; the misreadings learned; whether what is stated comes true; what to record."""
    if answer.readings:
        _learned(answer, console)
    for position, advice in enumerate(answer.advice):
        if position or answer.readings:
            console.print()
        line(console, advice, indent=0)


def _learned(answer: ReadingsReview, console: Console) -> None:
    counted = f"the characters of {answer.used} were counted" if answer.used < answer.readings else "the characters of all were counted"
    line(console, (many(answer.readings, "confirmed reading"), "bold"), f": {counted}.", indent=0)
    line(console, screens.exponent_words(answer.exponent_usual, answer.exponent, answer.fitted))
    heading(console, screens.BY_WEAR)
    columns(
        console,
        ("", "readings", "characters", "misread", "expected before", "now"),
        [(e.wear, str(e.readings), f"{e.characters:.0f}", f"{e.misread:.1f}", f"{e.rate_usual:.1%}", f"{e.rate:.1%}") for e in answer.levels],
        right=(1, 2, 3, 4, 5),
    )
    if answer.misreadings:
        heading(console, screens.MISREADINGS)
        shown = [(e.wear, f"{e.true} as {e.read_as}", f"{e.count:.1f}", f"{e.usual:.3f}", f"{e.learned:.3f}") for e in answer.misreadings]
        columns(console, ("", "", "times", "table", "now"), shown[:MOST_MISREADINGS], right=(2, 3, 4))
        if len(shown) > MOST_MISREADINGS:
            line(console, f"{many(len(shown) - MOST_MISREADINGS, 'other')} less so.")
    if answer.diagram:
        heading(console, f"{screens.COMES_TRUE} The best mark of each reading, by what the others taught")
        rows = [(f"{e.low:.1f} to {e.high:.1f}", str(e.count), f"{e.stated:.2f}", f"{e.right:.2f}") for e in answer.diagram]
        columns(console, ("stated", "readings", "on average", "right"), rows, right=(1, 2, 3))
        line(console, screens.on_average(answer.calibration_error or 0.0))
    if answer.left_out:
        heading(console, "Not used for everything")
        for each in answer.left_out[:MOST_LEFT_OUT]:
            what = "not used" if each.used_for == "nothing" else "for the table only"
            point(console, "!" if each.used_for == "nothing" else "-", (f"{each.reading_id}, {what}: ", "bold"), each.why)
        if len(answer.left_out) > MOST_LEFT_OUT:
            line(console, f"{many(len(answer.left_out) - MOST_LEFT_OUT, 'other')}; --json has all of them.")
