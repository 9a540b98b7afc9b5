"""What `make` and the installation promise: nothing is declared that nobody uses, every version has bounds, what is served is pinned."""

import ast
import re
import tomllib
from functools import cache
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PINNED = (ROOT / "docs" / "serving" / "requirements.txt").read_text(encoding="utf-8")
EVERY = sorted(
    {
        *PROJECT["build-system"]["requires"],
        *PROJECT["project"]["dependencies"],
        *(line for lines in PROJECT["project"]["optional-dependencies"].values() for line in lines),
    }
)
RUN_BY_THE_MAKEFILE = {"mypy", "ruff", "types-openpyxl", "pytest-xdist", "hatchling"}


@cache
def imported(*folders: str) -> set[str]:
    """The modules that the files of some folders import, or name for importing later."""
    names = set()
    for path in (path for folder in folders for path in (ROOT / folder).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names.add(node.module)
            elif isinstance(node, ast.Call) and getattr(node.func, "id", "") == "import_module" and isinstance(node.args[0], ast.Constant):
                names.add(str(node.args[0].value))
    return {name.split(".")[0] for name in names}


@cache
def installed() -> dict[str, set[str]]:
    """The modules that can be imported, and the packages that bring them."""
    return {module: {canonicalize_name(owner) for owner in owners} for module, owners in metadata.packages_distributions().items()}


def modules_of(requirement: str) -> set[str]:
    """What a package is imported as."""
    return {module for module, owners in installed().items() if canonicalize_name(Requirement(requirement).name) in owners}


@pytest.mark.parametrize("line", PROJECT["project"]["dependencies"])
def test_what_is_installed_with_the_program_is_used_by_it(line: str) -> None:
    assert modules_of(line) & imported("kb", "loaders")


@pytest.mark.parametrize("line", [line for line in EVERY if Requirement(line).name not in RUN_BY_THE_MAKEFILE])
def test_what_is_installed_for_the_tests_is_used_by_them(line: str) -> None:
    assert modules_of(line) & imported("kb", "loaders", "tests", "benchmarks", "docs")


@pytest.mark.parametrize("line", EVERY)
def test_every_version_has_a_lower_and_an_upper_bound(line: str) -> None:
    assert {each.operator for each in Requirement(line).specifier} == {">=", "<"}


def pins() -> dict[str, tuple[str, list[str]]]:
    """Package -> its version and the digests of its files."""
    found = {}
    for entry in re.split(r"\n(?=\S)", PINNED.strip()):
        if not entry.startswith("#"):
            whole = re.fullmatch(r"([a-z0-9._-]+)==(\S+)((?: \\\n {4}--hash=sha256:[0-9a-f]{64})+)", entry)
            assert whole, f"neither a version nor its digests: {entry}"
            found[canonicalize_name(whole[1])] = whole[2], re.findall(r"[0-9a-f]{64}", whole[3])
    return found


def test_what_a_site_is_installed_from_names_versions_and_digests_and_no_address() -> None:
    assert len(pins()) > 30
    assert not re.search(r"://|index-url|extra-index|find-links|trusted-host|\S@", PINNED)


@pytest.mark.parametrize("line", PROJECT["project"]["dependencies"])
def test_what_the_program_needs_is_pinned_within_its_bounds(line: str) -> None:
    wanted = Requirement(line)
    version, digests = pins()[canonicalize_name(wanted.name)]
    assert version in wanted.specifier
    assert digests


def test_what_a_pinned_package_needs_is_pinned_too() -> None:
    """Installing with --require-hashes refuses anything else."""
    listed = pins()
    missing = set()
    for name in listed:
        for line in metadata.requires(name) or [] if name not in ("pip", "setuptools") else []:
            wanted = Requirement(line)
            if wanted.marker is None or wanted.marker.evaluate({"extra": ""}):
                missing |= {f"{name} needs {line}"} - ({f"{name} needs {line}"} if canonicalize_name(wanted.name) in listed else set())
    assert not missing


def test_a_campaign_covers_every_file_that_has_a_long_version() -> None:
    [covered] = re.findall(r"^CAMPAIGN := ((?:.*\\\n)*.*)$", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE)
    folders = covered.replace("\\\n", " ").split()
    tests = [path for path in sorted((ROOT / "tests").rglob("test_*.py")) if path != Path(__file__).resolve()]
    marks = re.compile(r"KB_CAMPAIGN|campaign: bool|^from hypothesis", re.MULTILINE)
    long = [path.relative_to(ROOT).as_posix() for path in tests if marks.search(path.read_text(encoding="utf-8"))]
    assert len(long) > 20
    assert [path for path in long if not any(path == each or path.startswith(f"{each}/") for each in folders)] == []
    assert [each for each in folders if not (ROOT / each).exists()] == []


def test_warnings_are_errors_in_every_worker(request: pytest.FixtureRequest) -> None:
    assert "error" in request.config.getini("filterwarnings")
    with pytest.raises(UserWarning):
        __import__("warnings").warn("a warning", UserWarning, stacklevel=1)
