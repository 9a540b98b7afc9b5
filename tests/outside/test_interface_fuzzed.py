"""The JSON interface queried by schemathesis (https://schemathesis.io), from its description alone: no request makes the server fail.

What it makes up follows the description, so nothing but an answer, or a refusal in words, may come back.
"""

import asyncio
from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings

from kb.web.server import Served
from kb.web.site import Setup


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # of the libraries that schemathesis builds on
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_nothing_made_from_the_description_breaks_it(demo_db: Path, campaign: bool) -> None:
    served = Served(Setup(str(demo_db)))
    asyncio.run(served.invoke_startup())
    schema = schemathesis.openapi.from_asgi("/openapi.json", served.app())
    asked = set()

    for found in schema.get_all_operations():
        operation = found.ok()

        @settings(max_examples=150 if campaign else 8, deadline=None, suppress_health_check=list(HealthCheck), phases=[Phase.generate])
        @given(operation.as_strategy())
        def ask(case: schemathesis.Case) -> None:
            answer = case.call()
            asked.add((case.operation.path, answer.status_code))
            assert answer.status_code < 500 or answer.status_code == 503, case.as_curl_command()

        ask()
    served.close()
    assert len({path for path, _ in asked}) == len(list(schema.get_all_operations()))
