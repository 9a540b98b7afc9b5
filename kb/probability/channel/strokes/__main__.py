"""Write `kb/probability/channel/wear.txt` again: `python -m kb.probability.channel.strokes`."""

from pathlib import Path

from kb.output.writing import swap
from kb.probability.channel.strokes.table import as_text, table
from kb.probability.channel.strokes.wearing import LEVELS

TARGET = Path(__file__).resolve().parent.parent / "wear.txt"

if __name__ == "__main__":
    swap(TARGET, as_text({name: table(level) for name, level in LEVELS.items()}).encode("ascii"))
