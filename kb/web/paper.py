"""From an answer to a page: the templates, and what they may call. Every value from the data is escaped (Jinja's autoescape)."""

from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from kb.desk.sentences import checks, numbers, screens
from kb.desk.sentences.names import Names
from kb.desk.sentences.numbers import chance
from kb.desk.sentences.sources import page_words
from kb.desk.sentences.unit import WHY_NOT_HERE
from kb.store.book import Book
from kb.web import figures
from kb.web.site import Site
from kb.words import addresses
from kb.words.evidence import WRITTEN

TEMPLATES = Path(__file__).parent / "templates"


class Links(Names):
    """The names, and where each thing has its page."""

    def __init__(self, book: Book, site: Site) -> None:
        super().__init__(book)
        self.site = site

    def cited(self, source_id: str, page: str = "") -> Markup:
        """A reference that leads to its source; "" if nothing is cited."""
        if not source_id:
            return Markup("")
        where = f", {page_words(page)}" if page else ""
        return Markup('<a class="cited" href="{}">{}</a>{}').format(self.row("sources", source_id), self.source(source_id), where)

    def row(self, table: str, key: str) -> str:
        """The address of a row among the tables."""
        return self.site.url(f"/{addresses.step(self.site.database)}/{table}/{addresses.step(key)}")

    def table(self, table: str, **filters: str) -> str:
        """The address of a table, filtered."""
        return self.site.url(addresses.address(f"/{addresses.step(self.site.database)}/{table}", filters.items()))


def make_environment(book: Book, site: Site) -> Environment:
    """The templates for one thread."""
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, enable_async=False
    )
    environment.globals.update(
        names=Links(book, site),
        site=site,
        url=site.url,
        static=site.static,
        address=addresses.address,
        part_path=addresses.part_path,
        step=addresses.step,
        figures=figures,
        words=numbers,
        say=screens,
        worth=checks.worth,
        why_not_here=WHY_NOT_HERE,
        labels={kind.name: kind.label for kind in WRITTEN},
        book=book,
    )
    environment.filters.update(chance=chance, figure=numbers.figure, minutes=numbers.minutes)
    return environment


def render(environment: Environment, template: str, **values: Any) -> str:
    """One page."""
    return environment.get_template(template).render(**values)
