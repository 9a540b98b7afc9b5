"""Where a statement stands, and what a source claims."""

from kb.store.book import Book
from kb.store.rows import BreakpointRow


def cited(book: Book, source_id: str | None, page: str | None) -> str:
    """A reference in brackets, or ""."""
    if not source_id or source_id not in book.sources:
        return ""
    return f" [{book.sources[source_id].title}{', ' + page_words(page) if page else ''}]"


def page_words(page: str) -> str:
    """A page reference as it is printed.

    >>> page_words("25"), page_words("plate 3")
    ('p. 25', 'plate 3')
    """
    return f"p. {page}" if page[:1].isdigit() else page


def claim_words(row: BreakpointRow) -> str:
    """What a breakpoint says, without its source."""
    if row.first_new and row.first_new_to:
        return f"new from one of {row.first_new} to {row.first_new_to} on"
    if row.first_new and row.last_old:
        return f"old up to {row.last_old}, new from {row.first_new} on"
    if row.first_new:
        return f"new from {'about ' if row.about else ''}{row.first_new} on"
    if row.last_old:
        return f"old up to {row.last_old} at least"
    return f"changed in {row.when}" if row.when else "changed, not said when"
