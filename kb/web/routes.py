"""Which address leads to which page, and how a page is made: at the desk, as HTML or as JSON.

`PAGES` is the list of the site. A page with an answer has a `.json` twin that gives exactly what the API answers.
"""

import re
from base64 import b64encode
from collections.abc import Callable
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Any

from datasette import NotFound, Response
from datasette.utils import tilde_decode
from pydantic import BaseModel

from kb.store.lookups import image
from kb.web.address import Query
from kb.web.hooks import hook
from kb.web.openapi import document
from kb.web.pages.browse import BROWSE, MODEL, PROCEDURE, SERIES
from kb.web.pages.casting import CASTINGS
from kb.web.pages.changeovers import CHANGEOVERS
from kb.web.pages.compare import COMPARE
from kb.web.pages.find import FIND
from kb.web.pages.fit import FITS, PARTS, SELL
from kb.web.pages.measure import MEASURE
from kb.web.pages.page import Answer, Elsewhere, Page, Printed, Request
from kb.web.pages.part import PART
from kb.web.pages.readings import READINGS
from kb.web.pages.sighting import SIGHTING, rows_as_csv
from kb.web.pages.unit import FRONT, IDENTIFY
from kb.web.pages.work import GUIDE, SHEET
from kb.web.paper import make_environment, render
from kb.web.pool import Busy, Opened
from kb.web.problems import refusal
from kb.web.site import Site, site_of
from kb.words.errors import KbError

PAGES = (
    FRONT, FIND, IDENTIFY, FITS, SELL, PARTS, PART, CASTINGS, CHANGEOVERS, READINGS, COMPARE, BROWSE, MODEL, SERIES, PROCEDURE, SHEET, MEASURE,
    GUIDE, SIGHTING
)  # fmt: skip
STATIC = Path(__file__).parent / "static"
_TYPES = {".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}
# A picture opened by itself may do nothing at all, whatever is in it.
_PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
_INTERNAL = r"^/-/(?!health$)"


@hook
def register_routes(datasette: Any) -> list[tuple[str, Callable[..., Any]]]:
    """Datasette's hook: our pages, before its own; and what it shows of its inside, closed."""
    site = site_of(datasette)
    if site is None:
        return []
    routes: list[tuple[str, Callable[..., Any]]] = []
    for page in PAGES:
        if page.answer is not None:
            routes.append((f"^{page.pattern}\\.json$", _json(site, page)))
        routes.append((f"^{page.pattern}$", _html(site, page)))
    routes += [
        (r"^/sighting\.csv$", _sighting_csv(site)),
        (r"^/pictures/(?P<picture>[^/]+)$", _picture(site)),
        (r"^/static/(?P<name>[a-z]+\.[a-z]+)$", _static),
        (r"^/openapi\.json$", _openapi(site)),
        (r"^/-/health$", _health(site)),
    ]
    return routes + [(pattern, _closed) for pattern in (_INTERNAL, r"^/_internal(?:[/.]|$)", r"^/_memory")]


def asked_of(site: Site, request: Any) -> Request:
    """A request as the pages take it.

    Raises:
        DataError: more fields than anybody fills in.
    """
    path = request.path.removesuffix(".json")
    steps = {name: tilde_decode(value).strip() for name, value in request.url_vars.items()}
    return Request(path, steps, Query(request.query_string), f"{request.scheme}://{request.host}{site.prefix}")


def _html(site: Site, page: Page) -> Callable[..., Any]:
    async def html(request: Any) -> Response:
        try:
            made = await site.desk.ask(partial(make, site, page, asked_of(site, request)))
        except (KbError, Busy) as error:
            return await refusal(site, request, error)
        if isinstance(made, Elsewhere):
            return Response.redirect(site.url(made.path))
        if isinstance(made, Printed):
            return Response.html(made.text, headers={"content-security-policy": _policy_of(made.text)})
        status, text = made
        return Response.html(text, status=status)

    return html


def _policy_of(text: str) -> str:
    """What a page that is complete in itself may do: be styled and scripted by what is in it, and by nothing else."""

    def inside(tag: str) -> str:
        found = re.findall(f"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
        return " ".join(f"'sha256-{b64encode(sha256(each.encode()).digest()).decode()}'" for each in found) or "'none'"

    return (
        f"default-src 'none'; style-src {inside('style')}; script-src {inside('script')}; img-src data:; form-action 'self'; "
        "base-uri 'none'; frame-ancestors 'none'"
    )


def make(site: Site, page: Page, asked: Request, opened: Opened) -> tuple[int, str] | Printed | Elsewhere:
    """At the desk: the whole page, its status and text."""
    environment = opened.__dict__.get("environment")
    if environment is None:
        environment = opened.__dict__["environment"] = make_environment(opened.book, site)
    sheet = page.sheet(opened, asked)
    if isinstance(sheet, (Elsewhere, Printed)):
        return sheet
    twin = asked.path + ".json" if page.answer is not None and sheet.answers and sheet.status == 200 else ""
    return sheet.status, render(environment, sheet.template, asked=asked, twin=twin, **sheet.values)


def _json(site: Site, page: Page) -> Callable[..., Any]:
    async def as_json(request: Any) -> Response:
        try:
            text = await site.desk.ask(partial(_answer, page, asked_of(site, request)))
        except (KbError, Busy) as error:
            return await refusal(site, request, error)
        return Response(text, content_type="application/json; charset=utf-8", headers=cors(site))

    return as_json


def _answer(page: Page, asked: Request, opened: Opened) -> str:
    """At the desk: an answer as JSON."""
    assert page.answer is not None
    return dump(page.answer(opened, asked))


def dump(answer: Answer) -> str:
    """An answer, or a list of answers, as the command line prints it, without the spaces."""
    if isinstance(answer, BaseModel):
        return answer.model_dump_json()
    return f"[{','.join(each.model_dump_json() for each in answer)}]"


def cors(site: Site) -> dict[str, str]:
    """Whether pages of other sites may read our JSON."""
    return {"access-control-allow-origin": "*"} if site.setup.cors else {}


def _sighting_csv(site: Site) -> Callable[..., Any]:
    async def sighting(request: Any) -> Response:
        try:
            asked = asked_of(site, request)
            text = await site.desk.ask(lambda opened: rows_as_csv(opened, asked))
        except (KbError, Busy) as error:
            return await refusal(site, request, error)
        return Response(text, content_type="text/csv; charset=utf-8", headers={"content-disposition": 'attachment; filename="sightings.csv"'})

    return sighting


def _picture(site: Site) -> Callable[..., Any]:
    async def picture(request: Any) -> Response:
        wanted = tilde_decode(request.url_vars["picture"])
        try:
            row = await site.desk.ask(lambda opened: image(opened.book, wanted))
        except Busy as error:
            return await refusal(site, request, error)
        if row is None:
            raise NotFound("There is no such picture.")
        return Response(row.data, content_type=row.media_type, headers={"content-security-policy": _PICTURE_POLICY})

    return picture


async def _static(request: Any) -> Response:
    file = STATIC / request.url_vars["name"]
    if not file.is_file() or file.suffix not in _TYPES:
        raise NotFound("There is no such file.")
    headers = {"cache-control": "public, max-age=31536000, immutable" if request.query_string else "no-cache"}
    return Response(file.read_text(encoding="utf-8"), content_type=_TYPES[file.suffix], headers=headers)


def _openapi(site: Site) -> Callable[..., Any]:
    async def openapi(request: Any) -> Response:
        return Response.json(document(site.version, f"{site.prefix}/"), headers=cors(site))

    return openapi


def _health(site: Site) -> Callable[..., Any]:
    async def health(request: Any) -> Response:
        return Response.json({"ok": True, "build": site.info["dataset_digest"], "version": site.version}, headers=cors(site))

    return health


async def _closed(request: Any) -> Response:
    raise NotFound("There is no such page.")
