"""Pictures drawn on the server: inline SVG without scripts or styles of its own (the style sheet colours its classes).

Positions are in per cent of the width and sizes in pixels, so that a picture fills a telephone and a sheet of paper alike while
its lettering keeps its size. Each has a title and a description; the table behind each is in the template.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from kb.web.history import DrawnChangeOver
from kb.words.answers.fitment import TraceAnswer
from kb.words.answers.review import ReliabilityBin

_LETTERS = 44  # of a label that fits the width of a telephone
_LEAST_WINDOW = 20  # serials each side
_TALL = 220  # pixels from never to always


def shortened(text: str, most: int = _LETTERS) -> str:
    """A label that fits.

    >>> shortened("arbor housing", 8)
    'arbor h…'
    """
    return text if len(text) <= most else text[: most - 1] + "…"


@dataclass(frozen=True)
class _Scale:
    """From production orders to per cent of the width, with a margin for the marks at the ends."""

    first: int
    last: int

    def __call__(self, order: float) -> str:
        share = (order - self.first) / max(1, self.last - self.first)
        return f"{2 + 96 * min(1.0, max(0.0, share)):.2f}%"

    def width(self, first: float, last: float) -> str:
        """The width between two orders, at least a visible line."""
        return f"{max(0.4, 96 * (min(last, self.last) - max(first, self.first)) / max(1, self.last - self.first)):.2f}%"  # display

    def holds(self, order: int) -> bool:
        """It is inside the picture."""
        return self.first <= order <= self.last


def _svg(name: str, height: int, title: str, description: str, body: Sequence[str]) -> Markup:
    head = f'<svg class="figure {name}" role="img" width="100%" height="{height}" aria-label="{escape(title)}">'
    return Markup(f"{head}<title>{escape(title)}</title><desc>{escape(description)}</desc>{''.join(body)}</svg>")


def _text(x: str, y: int, text: str, anchor: str = "start", name: str = "") -> str:
    return f'<text x="{x}" y="{y}" text-anchor="{anchor}" class="{name}">{escape(text)}</text>'


def _tip(x: str, y: int, name: str, path: str) -> str:
    """A small shape at a place given in per cent: only a picture inside the picture can be placed so."""
    return f'<svg x="{x}" y="{y}" width="1" height="1" overflow="visible" aria-hidden="true"><path class="{name}" d="{path}"/></svg>'


def window(change: DrawnChangeOver) -> tuple[int, int]:
    """The stretch of the line worth drawing: the change-over, its claims, and the nearest sightings on both sides."""
    ends = [change.low, change.high, *(end for claim in change.claims for end in (claim.first, claim.last))]
    low, high = min(ends), max(ends)
    margin = max(_LEAST_WINDOW, (high - low) // 2)
    before = [dot.order for dot in change.dots if dot.order < low and not dot.odd]
    after = [dot.order for dot in change.dots if dot.order > high and not dot.odd]
    first = min(low - margin, max([o for o in before if o > low - 6 * margin], default=low) - margin // 4)
    last = max(high + margin, min([o for o in after if o < high + 6 * margin], default=high) + margin // 4)
    return max(0, first), min(change.count - 1, last)


def band(change: DrawnChangeOver, old: str, new: str) -> Markup:
    """A change-over: sightings of both castings as dots, claims as marks, and the stretch that holds it nine times out of ten."""
    scale = _Scale(*window(change))
    body = [f'<rect class="band" x="{scale(change.low)}" width="{scale.width(change.low, change.high + 1)}" y="18" height="106"/>']
    body.append(f'<line class="mode" x1="{scale(change.first_new)}" x2="{scale(change.first_new)}" y1="18" y2="130"/>')
    for side, top, label in (("new", 12, new), ("old", 52, old)):
        body.append(f'<line class="rule" x1="2%" x2="98%" y1="{top + 17}" y2="{top + 17}"/>')
        before = sum(dot.side == side and dot.order < scale.first for dot in change.dots)
        after = sum(dot.side == side and dot.order > scale.last for dot in change.dots)
        further = ", ".join(filter(None, [f"{before} earlier" if before else "", f"{after} later" if after else ""]))
        body.append(_text("0", top, shortened(f"Seen with {label}", _LETTERS - len(further))))
        if further:
            body.append(_text("100%", top, further, "end", "further"))
        for dot in change.dots:
            if dot.side == side and scale.holds(dot.order):
                told = f"{dot.row.serial}{', probably a replacement' if dot.odd else ''}"
                odd = " odd" if dot.odd else ""
                body.append(f'<circle class="dot {side}{odd}" cx="{scale(dot.order)}" cy="{top + 17}" r="5"><title>{escape(told)}</title></circle>')
    body.append(_text("0", 92, "Claimed by"))
    for claim in change.claims:
        if claim.last > claim.first:
            x1, x2 = scale(claim.first), scale(claim.last)
            body.append(f'<line class="claim {claim.standing.replace(" ", "-")}" x1="{x1}" x2="{x2}" y1="102" y2="102"/>')
        middle = scale((claim.first + claim.last) / 2)
        if claim.last == claim.first:
            body.append(_tip(middle, 96, "claim", "M-5 0H5L0 12Z"))
        body.append(_text(middle, 121, claim.letter, "middle", "letter"))
    body.append('<line class="axis" x1="2%" x2="98%" y1="126" y2="126"/>')
    body.append(_text("2%", 144, change.serial(scale.first)) + _text("98%", 144, change.serial(scale.last), "end"))
    title = f"{change.found.name}: sightings, claims, and where the change-over lies"
    seen = {side: sum(dot.side == side and scale.holds(dot.order) for dot in change.dots) for side in ("old", "new")}
    description = (
        f"Serials {change.serial(scale.first)} to {change.serial(scale.last)}, from left to right in the order of production. "
        f"{seen['old']} sightings with the old casting and {seen['new']} with the new one, {len(change.claims)} claims. The shaded stretch, "
        f"{change.serial(change.low)} to {change.serial(change.high)}, holds the first new unit nine times out of ten."
    )
    return _svg("changeover", 150, title, description, body)


def reliability(bins: Sequence[ReliabilityBin]) -> Markup:
    """Stated probabilities, from left to right, against the share that was right, from below; a larger dot stands for more readings."""
    most = max((each.count for each in bins), default=1)
    body = ['<line class="rule" x1="2%" x2="98%" y1="238" y2="18"/>', '<line class="axis" x1="2%" x2="98%" y1="240" y2="240"/>']
    body += [_text(f"{2 + 96 * at / 10:.2f}%", 254, f"{at / 10:g}", "middle") for at in (0, 5, 10)]
    body.append(_text("2%", 12, "share that was right, from 0 below to 1 above; stated probability from left to right"))
    for each in bins:
        told = f"{each.count} stated {each.stated:.2f}, right {each.right:.2f}"
        x, y, r = f"{2 + 96 * each.stated:.2f}%", f"{238 - _TALL * each.right:.0f}", f"{3 + 6 * (each.count / most) ** 0.5:.1f}"  # display
        body.append(f'<circle class="dot new" cx="{x}" cy="{y}" r="{r}"><title>{escape(told)}</title></circle>')
    says = "; ".join(f"stated {each.stated:.2f}, right {each.right:.2f} of {each.count}" for each in bins)
    return _svg("reliability", 260, "Stated probabilities and how often they came true", says, body)


@dataclass(frozen=True)
class Bar:
    """A block in a time-line, in production orders."""

    first: int
    last: int
    number: int
    label: str


@dataclass(frozen=True)
class Track:
    """The change-overs of one component along a line: (low, first new, high, label)."""

    label: str
    changes: tuple[tuple[int, int, int, str], ...]


def timeline(title: str, count: int, ends: tuple[str, str], bars: Sequence[Bar], tracks: Sequence[Track]) -> Markup:
    """The blocks of a line of serials, and below it when each component changed."""
    scale = _Scale(0, max(1, count))
    body = [_text("2%", 12, ends[0]), _text("98%", 12, ends[1], "end")]
    for bar in bars:
        shade = "odd" if bar.number % 2 else "even"
        x, width = scale(bar.first), scale.width(bar.first, bar.last + 1)
        body.append(f'<rect class="block {shade}" x="{x}" width="{width}" y="18" height="26"><title>{escape(bar.label)}</title></rect>')
        body.append(_text(scale((bar.first + bar.last) / 2), 36, str(bar.number), "middle", "in-block"))
    top = 52
    for track in tracks:
        body.append(_text("2%", top + 12, shortened(track.label)))
        body.append(f'<line class="rule" x1="2%" x2="98%" y1="{top + 22}" y2="{top + 22}"/>')
        for low, first, high, label in track.changes:
            body.append(f'<rect class="band" x="{scale(low)}" width="{scale.width(low, high + 1)}" y="{top + 17}" height="10"/>')
            body.append(
                f'<line class="mode" x1="{scale(first)}" x2="{scale(first)}" y1="{top + 15}" y2="{top + 29}"><title>{escape(label)}</title></line>'
            )
        top += 36
    description = (
        f"{count:,} serials from {ends[0]} to {ends[1]} in {len(bars)} blocks, numbered as in the table; below, for {len(tracks)} components, "
        "where each changed from one casting to the next."
    )
    return _svg("timeline", top + 4, title, description, body)


def chain(trace: TraceAnswer) -> Markup:
    """The supersessions of a part number, from the oldest on top to what can be bought today."""
    levels = _levels(trace)
    rows: dict[int, list[str]] = {}
    for number, level in levels.items():
        rows.setdefault(level, []).append(number)
    at = {n: ((2 * i + 1) * 50 / len(row), 4 + 62 * level) for level, row in rows.items() for i, n in enumerate(row)}
    buyable = {each.part_number for each in trace.current}
    body = []
    for step in trace.steps:
        (x1, y1), (x2, y2) = at[step.old], at[step.new]
        down = y2 > y1
        start, end = (y1 + 32, y2 - 6) if down else (y1, y2 + 38)
        body.append(f'<line class="arrow" x1="{x1:.2f}%" y1="{start}" x2="{x2:.2f}%" y2="{end}"/>')
        tip = "M-5 -6H5L0 2Z" if down else "M-5 6H5L0 -2Z"
        body.append(_tip(f"{x2:.2f}%", end + (4 if down else -4), "tip", tip))
        if step.quantity != 1:
            body.append(_text(f"{(x1 + x2) / 2 + 2:.2f}%", (start + end) // 2 + 4, f"{step.quantity:g} of it"))
    for number, (x, y) in at.items():
        kinds = " ".join(filter(None, ["part", "asked" if number == trace.asked else "", "buyable" if number in buyable else ""]))
        half = min(24.0, 48 / len(rows[levels[number]]))
        body.append(f'<rect class="{kinds}" x="{x - half:.2f}%" y="{y}" width="{2 * half:.2f}%" height="32" rx="2"/>')
        body.append(_text(f"{x:.2f}%", y + 21, shortened(number, 18), "middle", kinds))
    title = f"What {trace.asked} has become"
    steps = "; ".join(f"{step.old} to {step.new}" for step in trace.steps) or "no other number replaces it"
    bought = ", ".join(each.part_number for each in trace.current) or "nothing"
    return _svg("chain", 4 + 62 * (max(levels.values()) + 1) - 22, title, f"Supersessions: {steps}. Can be bought today: {bought}.", body)


def _levels(trace: TraceAnswer) -> dict[str, int]:
    """How many steps each number is away from the one asked for; arrows run downward where they can."""
    levels = {trace.asked: 0}
    for _ in range(len(trace.steps)):
        for step in trace.steps:
            if step.old in levels:
                levels.setdefault(step.new, levels[step.old] + 1)
    for step in trace.steps:
        for number in (step.old, step.new):
            levels.setdefault(number, 0)
    return levels
