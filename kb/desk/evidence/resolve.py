"""From what somebody typed to what this knowledge base knows: components, places, features, series, readings.

Everything that cannot be understood raises a QuestionError which says what would be.
"""

from collections.abc import Mapping
from importlib import import_module

from kb.desk.evidence.names import maker_of
from kb.desk.evidence.resolved import RESOLVERS, Resolved, ResolvedEvidence, Resolver, Scope
from kb.desk.evidence.second_looks import with_looks
from kb.store.book import Book
from kb.words.evidence import KINDS, Evidence


def resolve(book: Book, evidence: Evidence) -> ResolvedEvidence:
    """Look up everything that the evidence names.

    Raises:
        QuestionError: something is not in this knowledge base, or may mean several things.
        DataError: a reading is not in the notation.
    """
    only, model = maker_of(book, evidence.maker, evidence.model)
    scope = Scope(book, tuple(m for m in book.makers if only in ("", m)), evidence.wear)
    pieces: Mapping[str, tuple[Resolved, ...]] = {
        kind.name: tuple(resolver_of(kind.name)(scope, piece) for piece in evidence.pieces(kind)) for kind in KINDS if evidence.pieces(kind)
    }
    if evidence.again:
        pieces = with_looks(book, scope.makers, pieces, evidence.again)
    limits = (piece.limits_to for of_kind in pieces.values() for piece in of_kind)
    return ResolvedEvidence(evidence, scope.makers, frozenset([model] if model else []), frozenset(filter(None, limits)), pieces)


def resolver_of(kind: str) -> Resolver:
    """What understands the pieces of a kind: in the module of its name, which is imported once such a piece is given."""
    import_module(f"kb.desk.evidence.{kind}")
    return RESOLVERS[kind]
