"""One time axis: when the unit was probably built, what its casting dates say, and when its variants were fitted. SVG, black on white."""

from collections.abc import Sequence
from datetime import date

from markupsafe import Markup, escape

from kb.words.answers.identification import Identification

ROW, TOP, FOOT = 34, 4, 22  # pixels; across, everything is in per cent, so that lettering keeps its size on a telephone
MARGIN = 6  # per cent each side, for the years at the ends
LEAST = 0.1  # display: meanings of a casting date less probable than this are not drawn

Bar = tuple[str, str, list[tuple[date, date, float]]]  # class, label, spans with how dark


def timeline(unit: Identification) -> Markup:
    """The picture, "" if the unit has no dates at all. What it shows stands in the words of the sheet, too."""
    bars = _bars(unit)
    days = [day.toordinal() for _, _, spans in bars for first, last, _ in spans for day in (first, last)]
    if not days:
        return Markup("")
    first, last = date.fromordinal(min(days)).year, date.fromordinal(max(days)).year + 1
    start, days_shown = date(first, 1, 1).toordinal(), date(last, 1, 1).toordinal() - date(first, 1, 1).toordinal()
    height = TOP + ROW * len(bars) + FOOT

    def x(day: int) -> float:
        return MARGIN + (100 - 2 * MARGIN) * (day - start) / days_shown

    every = max(1, -(-(last - first) // 8))
    axis = []
    for year in range(first, last + 1, every):
        at = x(date(year, 1, 1).toordinal())
        axis.append(f'<line class="tick" x1="{at:.2f}%" x2="{at:.2f}%" y1="{TOP}" y2="{height - 18}"/>')
        axis.append(f'<text x="{at:.2f}%" y="{height - 5}" text-anchor="middle">{year}</text>')
    drawn = []
    for row, (kind, label, spans) in enumerate(bars):
        y = TOP + ROW * row
        for begin, end, weight in spans:
            left, right = x(begin.toordinal()), x(end.toordinal() + 1)
            opacity = "" if weight >= 0.995 else f' fill-opacity="{max(0.25, weight):.2f}"'  # display
            drawn.append(f'<rect class="{kind}" x="{left:.2f}%" y="{y + 16}" width="{max(right - left, 0.6):.2f}%" height="12"{opacity}/>')  # display
        drawn.append(f'<text x="{MARGIN}%" y="{y + 12}">{escape(label)}</text>')
    says = "; ".join(f"{label}: {_spoken(spans)}" for _, label, spans in bars)
    return Markup(
        f'<svg class="timeline" width="100%" height="{height}" role="img" aria-label="Time axis"><title>Time axis</title>'
        f"<desc>{escape(says)}</desc>{''.join(axis)}{''.join(drawn)}</svg>"
    )


def _bars(unit: Identification) -> list[Bar]:
    bars: list[Bar] = []
    if unit.units and unit.units[0].likely_from:
        best = unit.units[0]
        bars.append(("unit", f"unit, {best.dates_are}", [(date.fromisoformat(best.likely_from), date.fromisoformat(best.likely_to), 1.0)]))
    for entry in unit.dates:
        spans = [(date.fromisoformat(m.first), date.fromisoformat(m.last), m.probability) for m in entry.meanings if m.probability >= LEAST]
        bars.append(("cast", f"{entry.name} cast", spans))
        if entry.variant_from:
            made = (date.fromisoformat(entry.variant_from), date.fromisoformat(entry.variant_to), 1.0)
            bars.append(("made", "its variant fitted", [made]))
    return bars


def _spoken(spans: Sequence[tuple[date, date, float]]) -> str:
    return " or ".join(f"{first.isoformat()} to {last.isoformat()}" for first, last, _ in spans)
