"""What the site takes from Datasette although its documentation does not promise it: each name is listed here, and the installed version has it.

docs/serving.md says what Datasette 1.0 will change.
"""

import ast
import importlib
import re
from pathlib import Path

import pytest

from kb.web.server import Served
from tests.web.conftest import Site

WEB = Path(__file__).resolve().parents[2] / "kb" / "web"
TREES = {path.name: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(WEB.rglob("*.py"))}

PRIVATE: set[str] = set()  # attributes like `datasette._name`: none, and each that comes is listed here and looked for below
UNDOCUMENTED = {
    ("datasette.app", "Datasette"),
    ("datasette.database", "Database"),
    ("datasette.utils", "tilde_decode"),
    ("datasette.utils", "tilde_encode"),
    ("datasette.utils.asgi", "Base400"),
    ("datasette.views.base", "DatasetteError"),
    ("datasette.handle_exception", "rich"),
}
ATTRIBUTES = {"client", "databases", "executor"}  # of the Datasette object
HANDED = {"filtered_table_rows_count", "display_rows", "display_columns", "human_description_en"}  # to its template of a table


def test_no_private_attribute_of_another_is_touched_but_those_listed() -> None:
    found = set()
    for tree in TREES.values():
        own = {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)}
        own |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store)}
        own |= {node.target.id for node in ast.walk(tree) if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)}
        found |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute) and re.match("_[^_]", node.attr)} - own
        found |= {str(node.args[1].value) for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
                  and node.func.id in ("getattr", "hasattr", "setattr") and isinstance(node.args[1], ast.Constant)
                  and str(node.args[1].value).startswith("_")}  # fmt: skip
    assert found == PRIVATE


@pytest.mark.parametrize(("module", "name"), sorted(UNDOCUMENTED))
def test_the_installed_version_has_what_is_undocumented(module: str, name: str) -> None:
    assert hasattr(importlib.import_module(module), name)


def test_nothing_else_is_imported_from_the_inside_of_datasette() -> None:
    found = {(node.module, alias.name) for tree in TREES.values() for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)
             for alias in node.names if (node.module or "").startswith("datasette.")}  # fmt: skip
    assert found == UNDOCUMENTED - {("datasette.handle_exception", "rich")}  # which is set, not imported


@pytest.mark.parametrize("name", sorted(PRIVATE | ATTRIBUTES))
def test_the_object_has_its_attributes(site: Site, name: str) -> None:
    assert isinstance(site.served, Served)
    assert getattr(site.served, name, None) is not None


def test_the_template_of_a_table_gets_what_it_shows(site: Site) -> None:
    source = (WEB / "templates" / "table.html").read_text(encoding="utf-8") + (WEB / "templates" / "_table.html").read_text(encoding="utf-8")
    assert {name for name in HANDED if name in source} == HANDED
    page = site.get("/kb/models").text
    count = site.served.databases["kb"]
    [[models]] = site.loop.run_until_complete(count.execute("SELECT count(*) FROM models")).rows
    assert f"<strong>{models} rows</strong>" in page
    assert page.count("<tr>") >= models
