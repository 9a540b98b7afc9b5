"""When something is wrong: a page, or JSON, that says what and how to mend it, and never how the program looks inside."""

import logging
import traceback
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

from datasette import Response
from datasette.utils.asgi import Base400
from datasette.views.base import DatasetteError
from jinja2 import Environment, FileSystemLoader

from kb.web.hooks import first_hook
from kb.web.pages.page import NotHere
from kb.web.pool import Busy
from kb.web.site import Site, site_of
from kb.words.errors import KbError

_OURS = "Something went wrong on our side. It has been noted; please try again later."
_TITLES = {400: "That cannot be answered", 403: "Not allowed", 404: "Not here", 405: "Read only", 500: "Something went wrong", 503: "Busy"}
_PLAIN = Environment(loader=FileSystemLoader(Path(__file__).parent / "templates"), autoescape=True)  # needs no book, so no desk
log = logging.getLogger("kb.web")


async def refusal(site: Site, request: Any, error: KbError | Busy) -> Response:
    """A question that cannot be answered: 400, 404 for what is not there, 503 for later."""
    if isinstance(error, Busy):
        return await answer(site, request, 503, str(error), "Try again in a few seconds.", {"retry-after": "3"})
    return await answer(site, request, 404 if isinstance(error, NotHere) else 400, error.problem, error.remedy)


async def answer(site: Site, request: Any, status: int, problem: str, remedy: str = "", headers: dict[str, str] | None = None) -> Response:
    """The problem as JSON where JSON was asked for, else as a page."""
    if request.path.endswith((".json", ".csv")):
        found: Response = Response.json({"ok": False, "error": problem, "remedy": remedy, "status": status}, status=status, headers=headers or {})
        return found
    values = {"status": status, "error": problem, "remedy": remedy, "title": _TITLES.get(status, "Something is wrong")}
    text = site_page(site, values)
    found = Response.html(text, status=status, headers=headers or {})
    return found


def site_page(site: Site, values: dict[str, Any]) -> str:
    """The error page."""
    return _PLAIN.get_template("error.html").render(site=site, asked=None, twin="", **values)


@first_hook
def handle_exception(datasette: Any, request: Any, exception: Exception) -> Callable[[], Awaitable[Response]] | None:
    """Datasette's hook: whatever was not expected. A wrong address is the visitor's to mend, anything else is ours and is logged."""
    site = site_of(datasette)
    if site is None:
        return None

    async def handle() -> Response:
        if isinstance(exception, Base400):
            return await answer(site, request, exception.status, str(exception))
        if isinstance(exception, DatasetteError):
            status = 400 if exception.status == 500 else exception.status
            return await answer(
                site, request, status, "This table or query cannot be shown in that way.", "Go back and choose from what the page offers."
            )
        if request.query_string and request.path.startswith(f"/{site.database}"):
            # A field of the address that Datasette's own table pages do not understand; it raises whatever comes up.
            log.warning("%s", request.full_path, exc_info=exception)
            remedy = "Go back to the table and choose from what the page offers."
            return await answer(site, request, 400, "This address cannot be understood.", remedy)
        log.error("%s\n%s", request.path, "".join(traceback.format_exception(exception)))
        return await answer(site, request, 500, _OURS)

    return handle


@first_hook
def forbidden(datasette: Any, request: Any, message: str) -> Callable[[], Awaitable[Response]] | None:
    """Datasette's hook: what is shut."""
    site = site_of(datasette)
    if site is None:
        return None

    async def refuse() -> Response:
        return await answer(site, request, 403, "This is not open here.", "Use the pages, the tables or the JSON interface.")

    return refuse
