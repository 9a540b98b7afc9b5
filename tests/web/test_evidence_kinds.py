"""Every kind of evidence can be given wherever evidence is given: no face keeps a list of its own."""

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from kb.cli import main as kb
from kb.desk.trade.inquiry import Heading, heading
from kb.web.form import SECTIONS
from kb.words.evidence import AGAIN, CONTEXT, KINDS, WRITTEN, Evidence, EvidenceKind
from tests.web.conftest import Site

by_name = pytest.mark.parametrize("kind", WRITTEN, ids=lambda kind: kind.name)


@by_name
def test_an_example_is_read_and_written_again(kind: EvidenceKind) -> None:
    said = Evidence(**{kind.field: kind.example})
    assert said.fields == [(kind.name, kind.example)]
    assert said.empty is (kind is AGAIN)  # a second look alone says nothing


@pytest.mark.parametrize("command", ["identify", "fits", "parts", "sell"])
def test_the_command_line_has_an_option_for_each(command: str) -> None:
    shown = " ".join(CliRunner().invoke(kb, [command, "--help"], catch_exceptions=False, env={"COLUMNS": "200"}).output.split())
    for kind in WRITTEN:
        assert f"{kind.option} {kind.notation} {kind.help}" in shown, kind.name
    assert all(f"--{each.name} " in shown and each.help in shown for each in CONTEXT)


@pytest.mark.parametrize("path", ["/identify.json", "/fits.json", "/sell.json", "/parts.json", "/sheet.json", "/sighting.json"])
def test_openapi_has_a_parameter_for_each(site: Site, path: str) -> None:
    operation: dict[str, Any] = site.get("/openapi.json").json()["paths"][path]["get"]
    parameters = {each["name"]: each for each in operation["parameters"]}
    assert {each.name for each in CONTEXT} <= set(parameters)
    for kind in WRITTEN:
        assert parameters[kind.name]["example"] == [kind.example]
        assert parameters[kind.name]["description"].startswith(f"{kind.notation}: {kind.help}")


@by_name
def test_the_form_has_rows_for_each(site: Site, kind: EvidenceKind) -> None:
    page = site.get("/").text
    sections = [section for section in SECTIONS.values() if section.kind is kind]
    assert sections
    for section in sections:
        assert f'name="{section.typed}"' in page and f'name="more" value="{section.name}"' in page
        assert f"<legend>{section.heading}</legend>" in page


@by_name
def test_the_form_shows_what_an_address_says(site: Site, kind: EvidenceKind) -> None:
    form = site.get("/identify", params={"maker": "nonsense", kind.name: kind.example}).text  # the form comes back because of the maker
    assert any(half in form for half in (f'value="{kind.example}"', f'value="{kind.example.rpartition("=")[2]}"'))


@by_name
def test_an_inquiry_list_has_a_column_for_each(kind: EvidenceKind) -> None:
    for name in kind.columns:
        assert heading(name) == heading(name.upper().replace("_", " ")) == Heading(kind.field)
    assert heading(f"{kind.name} somewhere") == Heading(kind.field, "somewhere")


def test_the_docs_have_a_row_for_each(root: Path) -> None:
    page = (root / "docs" / "evidence.md").read_text(encoding="utf-8")
    for kind in WRITTEN:
        assert f"| **{kind.label}**: {kind.help} | `{kind.option}` | `{kind.notation}` | `{kind.example}` |" in page


def test_names_fields_and_columns_are_told_apart() -> None:
    assert len({kind.name for kind in WRITTEN}) == len({kind.field for kind in WRITTEN}) == len(WRITTEN) == len(KINDS) + 1
    columns = [column for kind in WRITTEN for column in kind.columns]
    assert len(columns) == len(set(columns))
    assert {kind.field for kind in WRITTEN} | {each.name for each in CONTEXT} == set(Evidence.model_fields)
