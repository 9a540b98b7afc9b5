"""What a printed sheet says, as text: without figures that every new sighting moves a little, so that a golden file changes only with the work."""

import re
from html.parser import HTMLParser

BLOCKS = {"p", "li", "div", "h1", "h2", "h3", "tr", "table", "ol", "ul"}


class _Text(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.lines, self._line, self._hidden = [], "", 0

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        if tag in ("style", "svg", "script", "title"):
            self._hidden += 1
        elif tag in BLOCKS:
            self._end()
        elif tag in ("td", "th"):
            self._line += " | "
        elif dict(attributes).get("class") == "tick-box":
            self._line += "[ ] "
        elif dict(attributes).get("class") == "blank":
            self._line += "____"

    def handle_endtag(self, tag: str) -> None:
        if tag in ("style", "svg", "script", "title"):
            self._hidden -= 1
        elif tag in BLOCKS:
            self._end()
        elif tag == "span":
            self._line += " "

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self._line += data

    def _end(self) -> None:
        line = " ".join(self._line.split())
        if line:
            self.lines.append(line)
        self._line = ""


def lines(html: str) -> list[str]:
    """The lines of a page."""
    reader = _Text()
    reader.feed(html)
    return reader.lines


def work(html: str) -> str:
    """The dangers and steps of a sheet, without probabilities: what has to be done to this unit."""
    found = lines(html)
    start = next((i for i, line in enumerate(found) if line == "Dangers of this job"), 0)
    kept = [line for line in found[start : found.index("Castings")] if not line.startswith(("Look at ", "Clean and read "))]
    return "\n".join(re.sub(r" \((?:over |under )?[01](?:\.\d+)?\)", "", line) for line in [found[0], *kept, found[-1]]) + "\n"
