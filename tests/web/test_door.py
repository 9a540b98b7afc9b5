"""At the door: methods, headers, lengths, what is closed, and the message when something is wrong."""

import asyncio
import re
import threading
from functools import partial
from pathlib import Path
from urllib.parse import urlencode

import pytest

from kb.web.pages import partlist
from kb.web.pool import Busy, Desk, Opened
from tests.web.conftest import Site

PAGES = [
    "/",
    "/identify",
    "/identify?serial=%3F1%3F42&mark=gear-case%3D18-E25",
    "/fits?part=6104&serial=105112",
    "/sell?part=6104&serial=105112",
    "/measure",
    "/measure?step=arbor-10&value=0.35",
    "/parts?serial=105112",
    "/parts/6104",
    "/castings?mark=V21%3F1",
    "/changeovers",
    "/changeovers?component=arbor-housing",
    "/readings",
    "/compare/arbor-housing",
    "/browse",
    "/models/wren-30",
    "/series/pw-unit-no",
    "/procedures/arbor-seals",
    "/sighting?serial=105112&mark=arbor-housing%40left%3DV2141",
    "/find?q=feed",
    "/kb",
    "/kb/sightings",
    "/kb/parts/6104",
    "/kb/contradicted_claims",
]


@pytest.mark.parametrize("url", PAGES)
def test_every_page_says_its_language_and_its_build_and_guards_itself(site: Site, url: str) -> None:
    page = site.get(url)
    assert page.status_code == 200, page.text
    assert '<html lang="en">' in page.text
    assert site.served.kb_site.build in page.text
    policy = page.headers["content-security-policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy
    assert page.headers["x-content-type-options"] == "nosniff"
    assert page.headers["referrer-policy"] in ("same-origin", "no-referrer")
    assert page.headers["x-frame-options"] == "DENY"
    assert "set-cookie" not in page.headers
    assert "<script>" not in page.text and " style=" not in page.text and "onclick" not in page.text


def test_a_row_names_what_it_refers_to_and_leaves_out_what_is_empty(site: Site) -> None:
    row = site.get("/kb/parts/6104").text
    assert '<a href="/kb/sources/ov-repair-list-9">Ombrecht &amp; Vay, Repair List No. 9</a>' in row
    assert "<dt>made_by</dt>" not in row and ">0 rows</a>" not in row


def test_a_sheet_to_print_is_styled_by_nothing_but_what_is_in_it(site: Site) -> None:
    sheet = site.get("/sheet?assembly=pump&serial=C1542")
    assert sheet.status_code == 200 and "Work sheet: pump" in sheet.text
    assert "'unsafe" not in sheet.headers["content-security-policy"] and "'sha256-" in sheet.headers["content-security-policy"]
    assert "http://localhost/identify?serial=C1542" in sheet.text
    assert "http://localhost/measure?step=pump-9&amp;serial=C1542" in sheet.text


def test_a_field_guide_runs_nothing_but_its_own_look_up(site: Site) -> None:
    guide = site.get("/guides/wren-30")
    assert guide.status_code == 200 and "Field guide: " in guide.text
    policy = guide.headers["content-security-policy"]
    assert "unsafe" not in policy and policy.count("'sha256-") == 2 and "form-action 'self'" in policy
    assert 'action="http://localhost/identify"' in guide.text  # without scripts the look-up asks the site
    assert site.get("/guides/none").status_code == 404


def test_a_measure_leads_to_its_own_address(site: Site) -> None:
    """Counts that are those of the step's kits are left out of it; others are carried."""
    form = site.get("/measure?step=arbor-10").text
    shims = re.findall(r'name="shim" value="([^"]+)"><input id="count-\d+" name="count" value="(\d+)"', form)
    assert len(shims) >= 2
    usual = urlencode([("step", "arbor-10"), ("value", "0.35"), *(pair for name, count in shims for pair in (("shim", name), ("count", count)))])
    assert site.get(f"/measure?{usual}").headers["location"] == "/measure?step=arbor-10&value=0.35"
    (first, _), *others = shims
    fewer = urlencode([("step", "arbor-10"), ("value", "0.35"), ("shim", first), ("count", "0")])
    assert site.get(f"/measure?{fewer}").headers["location"] == f"/measure?step=arbor-10&value=0.35&at_hand={first}%3D0"


def test_what_a_mistake_costs_moves_the_verdict_and_is_kept(site: Site) -> None:
    sent = site.get("/sell?part=6104&serial_is=105112&serial_of=&return_cost=40&sale_value=20")
    assert sent.headers["location"] == "/sell?part=6104&serial=105112&return_cost=40&sale_value=20"
    page = site.get(sent.headers["location"])
    assert "Assumed: a return costs 40, a sale brings 20" in page.text
    assert 'name="return_cost" value="40"' in page.text


@pytest.mark.parametrize("url", PAGES)
def test_a_page_that_is_known_is_not_sent_again(site: Site, url: str) -> None:
    tag = site.get(url).headers["etag"]
    again = site.get(url, headers={"If-None-Match": f'"other", W/{tag}'})
    assert (again.status_code, again.text) == (304, "")
    assert site.get(url, headers={"If-None-Match": '"other"'}).status_code == 200


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS"])
@pytest.mark.parametrize("url", ["/", "/identify?serial=1", "/kb", "/kb/parts", "/nothing"])
def test_nothing_but_reading(site: Site, method: str, url: str) -> None:
    refused = site.request(method, url)
    assert refused.status_code == 405
    assert refused.headers["allow"] == "GET, HEAD"


@pytest.mark.parametrize(
    "url",
    ["/-/versions", "/-/databases", "/-/metadata", "/-/settings", "/-/plugins", "/-/threads", "/-/messages", "/-/allow-debug", "/-/patterns",
     "/-/permissions", "/-/actor", "/-/static/app.css", "/_internal", "/_internal.json", "/_memory", "/kb.db"],
)  # fmt: skip
def test_the_inside_is_shut(site: Site, url: str) -> None:
    assert site.get(url).status_code in (403, 404)


@pytest.mark.parametrize("url", ["/kb?sql=select+1", "/kb.json?sql=select+1", "/kb/parts?_where=1%3D1"])
def test_free_sql_is_shut(site: Site, url: str) -> None:
    assert site.get(url).status_code in (400, 403)


def test_the_file_can_be_had_only_where_that_was_switched_on(site: Site, behind_proxy: Site, demo_db: Path) -> None:
    assert site.get("/kb.db").status_code in (403, 404)
    assert behind_proxy.get("/kb.db").content == demo_db.read_bytes()


def test_json_is_for_other_sites_only_where_that_was_switched_on(site: Site, behind_proxy: Site) -> None:
    assert "access-control-allow-origin" not in site.get("/identify.json?serial=105112").headers
    assert behind_proxy.get("/identify.json?serial=105112").headers["access-control-allow-origin"] == "*"


def test_health_says_which_build_answers(site: Site) -> None:
    health = site.get("/-/health")
    assert health.json()["build"] == site.served.kb_site.info["dataset_digest"]
    assert health.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    ("url", "status", "says"),
    [
        ("/identify?serial=%21%21", 400, "contains &#34;!&#34;"),
        ("/identify?mark=nose%3D12", 400, "There is no component &#34;nose&#34;"),
        ("/identify?maker=nobody", 400, "There is no maker &#34;nobody&#34;"),
        ("/identify?wear=rotten&serial=1", 400, "is not a degree of wear"),
        ("/identify?serial=105112&replaced_rate=7", 400, "is not a share"),
        ("/fits?part=nope&serial=105112", 400, "There is no part &#34;nope&#34;"),
        ("/fits?part=6104&serial=105112&for=yesterday", 400, "is no choice for for"),
        ("/sell?part=6104&serial=105112&return_cost=40", 400, "Only one of the two costs is stated"),
        ("/sell?part=6104&serial=105112&return_cost=40&sale_value=-1", 400, "&#34;-1&#34; is no amount"),
        ("/measure?step=nope&value=1", 400, "There is no step &#34;nope&#34;"),
        ("/measure?step=arbor-10&value=much", 400, "is no measure of end play"),
        ("/measure?step=arbor-10&value=1&at_hand=6131-10", 400, "does not say how many"),
        ("/castings?mark=%7B", 400, "contains"),
        ("/changeovers?component=nose", 400, "There is no component"),
        ("/parts/nope", 404, "There is no part &#34;nope&#34;"),
        ("/compare/nose", 404, "There is no component"),
        ("/models/none", 404, "There is no model"),
        ("/pictures/none", 404, "There is no such picture"),
        ("/nothing", 404, "Not here"),
        ("/kb/parts?_sort=nope", 400, ""),
        ("/kb/parts?_next=x&_size=z", 400, ""),
        ("/kb/parts?_timelimit=x", 400, ""),
        ("/kb/parts?_through=%7B", 400, ""),
        ("/kb/parts?kind__in=%5B", 400, ""),
        ("/identify?" + "serial=1&" * 500, 400, "more than 400 fields"),
        ("/identify?serial=" + "1" * 20000, 414, "too long"),
    ],
)
def test_what_is_wrong_is_said_plainly(site: Site, url: str, status: int, says: str) -> None:
    page = site.get(url)
    assert page.status_code == status, page.text
    assert says in page.text
    assert "Traceback" not in page.text and "kb/web" not in page.text
    assert "etag" not in page.headers


def test_json_errors_have_the_same_words(site: Site) -> None:
    wrong = site.get("/identify.json?mark=nose%3D12")
    assert wrong.status_code == 400
    assert wrong.json()["error"] == 'There is no component "nose" in this knowledge base.'
    assert site.get("/parts/nope.json").json()["status"] == 404


def test_the_form_keeps_what_was_typed_and_puts_the_message_beside_its_field(site: Site) -> None:
    page = site.get("/identify?serial_is=105112&serial_of=&mark_is=V2141&mark_on=&mark_is=V%2521&mark_on=arbor-housing%40left")
    assert page.status_code == 400
    assert 'value="105112"' in page.text and 'value="V2141"' in page.text
    field, message = page.text.index('value="V%21"'), page.text.index("contains &#34;%&#34;")
    assert 0 < message - field < 12_000
    assert page.text.count('role="alert"') == 2  # the summary and the one message


def test_more_rows_without_javascript(site: Site) -> None:
    short = site.get("/identify?serial_is=1051%3F2&serial_of=")
    longer = site.get("/identify?serial_is=1051%3F2&serial_of=&mark_is=&mark_on=&more=mark")
    assert short.status_code == 302  # complete: on to the address that carries the evidence
    assert longer.status_code == 200 and longer.text.count('name="mark_is"') == 3
    assert 'value="1051?2"' in longer.text


def test_a_finished_form_leads_to_the_address_that_carries_the_evidence(site: Site) -> None:
    sent = site.get("/identify?maker=&model=&serial_is=%3F1%3F42&serial_of=&mark_is=18-E25&mark_on=gear-case&saw=&measure_is=&measure_of=&wear=")
    assert sent.headers["location"] == "/identify?serial=%3F1%3F42&mark=gear-case%3D18-E25"


def test_a_second_look_is_kept_by_the_form_and_leads_on(site: Site) -> None:
    page = site.get("/identify?serial=1048%3F3&mark=arbor-housing@left%3DV21%3F6&again=serial:5%3D7").text
    assert "second look serial:5=7" in page and "again=serial:5%3D7&amp;again=serial:3%3D4" in page
    sent = site.get("/identify?serial_is=1048%3F3&serial_of=&again=serial%3A5%3D7&again=")
    assert sent.headers["location"] == "/identify?serial=1048%3F3&again=serial:5%3D7"
    wrong = site.get("/identify?serial_is=1048%3F3&serial_of=&again=serial%3A9%3D7").text
    assert 0 < wrong.index("has no character 9") - wrong.index('value="serial:9=7"') < 500


def test_what_is_known_of_a_loose_casting_stays_in_its_form(site: Site) -> None:
    page = site.get("/castings?mark=V21%3F7&component=arbor-housing&model=rook-36&serial_from=104101&again=4%3D4").text
    for kept in ('value="V21?7"', 'value="4=4"', 'value="104101"', '<option value="rook-36" selected>', '<option value="arbor-housing" selected>'):
        assert kept in page
    assert "component=arbor-housing&amp;model=rook-36&amp;serial_from=104101&amp;again=4%3D4&amp;again=5%3D8" in page  # the next look keeps all
    refused = site.get("/castings?mark=V21%3F7&component=arbor-hosing")
    assert refused.status_code == 400 and "Did you mean" in refused.text and 'value="arbor-hosing" selected' in refused.text
    assert "Of all castings it suits Ombrecht &amp; Vay, arbor housing" in site.get("/castings?mark=V2148&component=carriage").text


def test_a_part_for_a_unit_of_either_maker_asks_who_made_it(site: Site) -> None:
    page = site.get("/fits?part=6104&serial=*1")
    assert page.status_code == 200
    assert "Find out who made the unit" in page.text and "/fits?part=6104&amp;maker=" in page.text


@pytest.mark.parametrize(
    ("typed", "leads_to"),
    [
        ("6104", "/parts/6104"),
        ("61-04", "/parts/6104"),
        ("Wren 30", "/models/wren-30"),
        ("arbor housing", "/compare/arbor-housing"),
        ("V2148", "/castings?mark=V2148"),
        ("105112", "/identify?serial=105112"),
    ],
)
def test_one_box_takes_anything(site: Site, typed: str, leads_to: str) -> None:
    assert site.get("/find", params={"q": typed}).headers["location"] == leads_to


@pytest.mark.parametrize(
    ("typed", "says"), [("35 x 52 x 7", ">part 6104-2, arbor seal 35 x 52 x 7</a>"), ("61O4", ">6104, arbor seal 35 x 52 x 7 (O for 0)</a>")]
)
def test_one_box_takes_measures_and_offers_what_was_meant(site: Site, typed: str, says: str) -> None:
    page = site.get("/find", params={"q": typed})
    assert page.status_code == 200 and says in page.text


@pytest.mark.parametrize(
    ("url", "leads_to", "leads"),
    [
        ("/fits", "/fits.json", False),  # nothing was asked yet
        ("/measure", "/measure.json", False),
        ("/fits?part=6104&serial=105112", "/fits.json", True),
        ("/identify?serial=105112", "/sighting", False),  # no casting was looked at
        ("/identify?serial=105112&mark=arbor-housing%40left%3DV2141", "/sighting", True),
        ("/kb/sightings?_next=seen-025", "_next=seen-025&amp;_labels=on&amp;_size=max&amp;_stream=1", False),  # a stream has no pages
    ],
)
def test_a_link_is_there_only_if_there_is_something_behind_it(site: Site, url: str, leads_to: str, leads: bool) -> None:
    assert (leads_to in site.get(url).text) is leads


def test_parts_of_a_large_maker_are_shown_by_assembly(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(partlist, "MOST_AT_ONCE", 3)
    monkeypatch.setattr(partlist, "MOST_LINES", 5)
    page = site.get("/identify?serial=105112").text
    assert '<a href="/parts?assembly=arbor&amp;serial=105112">arbor</a>' in page and 'class="verdict' not in page
    assert "an assembly must be chosen first" in site.get("/parts?serial=105112").text
    arbor = site.get("/parts?serial=105112&assembly=arbor").text
    assert arbor.count('data-label="Order"') == 5 and 'href="/parts.json?assembly=arbor&amp;serial=105112"' in arbor


def test_what_can_mean_nothing_is_called_unknown(site: Site) -> None:
    page = site.get("/find?q=K7712")
    assert page.status_code == 200 and "Not in this knowledge base" in page.text
    assert "Not in this knowledge base" in site.get("/identify?serial=K7712").text


def test_a_full_desk_says_so_and_empties_again(demo_db: Path) -> None:
    """One at work, one waiting: the third is turned away; when the work is done there is room again."""
    desk, gate = Desk(demo_db, at_work=1, waiting=1), threading.Event()

    def slow(opened: Opened) -> bool:
        return gate.wait(10)

    async def rush() -> None:
        inside = [asyncio.ensure_future(desk.ask(slow)) for _ in range(2)]
        await asyncio.sleep(0.05)
        with pytest.raises(Busy):
            await desk.ask(slow)
        gate.set()
        assert await asyncio.gather(*inside) == [True, True]
        assert await desk.ask(lambda opened: "room again") == "room again"

    asyncio.run(rush())
    desk.close()


def test_clerks_share_a_file_without_mixing_up_their_questions(demo_db: Path) -> None:
    desk = Desk(demo_db, at_work=4, waiting=2000)

    async def rush() -> list[tuple[str, str]]:
        def look(opened: Opened, number: str) -> tuple[str, str]:
            return number, opened.book.one("select part_number from parts where part_number = ?", number).part_number

        numbers = await desk.ask(lambda opened: [row.part_number for row in opened.book.rows("select part_number from parts")])
        return await asyncio.gather(*(desk.ask(partial(look, number=number)) for number in numbers * 20))

    found = asyncio.run(rush())
    desk.close()
    assert len(found) > 1000 and all(asked == told for asked, told in found)


def test_an_answer_that_takes_too_long_is_given_up(demo_db: Path) -> None:
    desk, gate = Desk(demo_db, at_work=1, waiting=1, seconds=0.05), threading.Event()
    with pytest.raises(Busy, match="took too long"):
        asyncio.run(desk.ask(lambda opened: gate.wait(10)))
    gate.set()
    desk.close()


def test_busy_is_503_with_a_time_to_come_back(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    async def full(question: object) -> None:
        raise Busy("More people are asking at this moment than can be served.")

    monkeypatch.setattr(site.served.kb_site.desk, "ask", full)
    busy = site.get("/identify?serial=105112")
    assert (busy.status_code, busy.headers["retry-after"]) == (503, "3")
    assert site.get("/identify.json?serial=105112").json()["status"] == 503
