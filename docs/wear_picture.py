"""Draw docs/wear.svg, the picture of the wear table: `python docs/wear_picture.py`."""

from pathlib import Path

from kb.assumptions import Assumptions
from kb.probability.channel.wear import confusion
from kb.words.notation import ALPHABET

CELL, MARGIN = 16, 44
SHOWN = 0.002  # what is rarer stays white
PICTURE = Path(__file__).with_name("wear.svg")


def draw(level: str = "worn") -> str:
    """The table as squares, darker for what is read more often; the diagonal, right readings, is left white with its value in the tooltip."""
    table = confusion(level, Assumptions())
    size = MARGIN + CELL * len(ALPHABET) + 8
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}" font-family="monospace" font-size="11" role="img" aria-labelledby="t">',
        f'<title id="t">How worn characters are misread ({level}): rows the true character, columns what is read, darker is more often.</title>',
        f'<rect width="{size}" height="{size}" fill="#fff"/>',
        f'<rect x="{MARGIN}" y="{MARGIN}" width="{CELL * 36}" height="{CELL * 36}" fill="none" stroke="#999"/>',
        f'<text x="{MARGIN + CELL * 18}" y="12" text-anchor="middle">read as</text>',
        f'<text x="12" y="{MARGIN + CELL * 18}" text-anchor="middle" transform="rotate(-90 12 {MARGIN + CELL * 18})">true character</text>',
    ]
    for i, true in enumerate(ALPHABET):
        at = MARGIN + CELL * i
        parts.append(f'<text x="{at + CELL // 2}" y="{MARGIN - 8}" text-anchor="middle">{true}</text>')
        parts.append(f'<text x="{MARGIN - 8}" y="{at + 12}" text-anchor="end">{true}</text>')
        for j, seen in enumerate(ALPHABET):
            share = table[i, j]
            if share < SHOWN and i != j:
                continue
            shade = 255 if i == j else round(255 * (1 - min(1.0, (share / 0.08) ** 0.5)))
            stroke = "#bbb" if i == j else "none"
            parts.append(
                f'<rect x="{MARGIN + CELL * j}" y="{at}" width="{CELL}" height="{CELL}" fill="rgb({shade},{shade},{shade})" stroke="{stroke}">'
                f"<title>{true} read as {seen}: {share:.4f}</title></rect>"
            )
    return "\n".join([*parts, "</svg>"]) + "\n"


if __name__ == "__main__":
    PICTURE.write_text(draw(), encoding="utf-8")
