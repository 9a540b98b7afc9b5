"""What an old machine is and which parts fit it: serial numbers, casting variants and fitments, with their reasons."""

from typing import TYPE_CHECKING, Any

from kb.assumptions import Assumptions
from kb.words.errors import DataError, FileError, KbError, QuestionError
from kb.words.evidence import Evidence

if TYPE_CHECKING:
    from kb.api import KnowledgeBase

__all__ = ["Assumptions", "DataError", "Evidence", "FileError", "KbError", "KnowledgeBase", "QuestionError"]


def __getattr__(name: str) -> Any:
    """The one name that needs numpy is imported when it is first used, so that checking and building start fast."""
    if name == "KnowledgeBase":
        from kb.api import KnowledgeBase

        return KnowledgeBase
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
