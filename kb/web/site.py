"""One site: which file it serves, how it is set up, and what it says about itself in the foot of every page."""

import hashlib
import json
from dataclasses import asdict, dataclass
from functools import cached_property
from importlib import metadata
from pathlib import Path
from typing import Any

from kb.store.book import Book
from kb.store.seal import check_seal
from kb.web.pool import Desk
from kb.words.errors import FileError

DATABASE = "kb"  # how the tables are addressed: /kb/parts


@dataclass(frozen=True)
class Setup:
    """What can be chosen when a site is started; all of it can be handed on to further processes as JSON."""

    path: str
    base_url: str = "/"
    cors: bool = False
    download: bool = False
    at_work: int = 2
    waiting: int = 14
    seconds: float = 20.0

    def to_json(self) -> str:
        """For the environment of another process."""
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> "Setup":
        """The other way."""
        return cls(**json.loads(text))


class Site:
    """What the pages of one running server share."""

    def __init__(self, setup: Setup, database: str = DATABASE) -> None:
        """Read what the file says about itself.

        Raises:
            FileError: no such file, or not a knowledge base.
        """
        self.setup, self.database = setup, database
        self.path = Path(setup.path)
        book = Book(self.path)
        self.info: dict[str, str] = dict(book.info)
        self.rows: dict[str, int] = json.loads(self.info["rows"])
        book.close()
        self.desk = Desk(self.path, setup.at_work, setup.waiting, setup.seconds)
        self.prefix = setup.base_url.rstrip("/")

    @cached_property
    def build(self) -> str:
        """The dataset's digest, shortened to what a person can compare."""
        return self.info["dataset_digest"][:12]

    @cached_property
    def version(self) -> str:
        """The version of the program that answers."""
        try:
            return metadata.version("casting-kb")
        except metadata.PackageNotFoundError:  # run from its folder without being installed
            return "not installed"

    @cached_property
    def tag(self) -> str:
        """Changes whenever any page might: with the data, the program, the templates and the set-up."""
        digest = hashlib.sha256(f"{self.info['dataset_digest']} {self.info['assumptions']} {self.version} {self.setup.to_json()}".encode())
        for file in sorted((Path(__file__).parent).rglob("*")):
            if file.suffix in (".html", ".css", ".js", ".py"):
                digest.update(file.read_bytes())
        digest.update(metadata.version("datasette").encode())
        return digest.hexdigest()[:20]

    @property
    def has_private(self) -> bool:
        """The file was not built with --public."""
        return self.info.get("public") != "yes"

    def url(self, path: str) -> str:
        """An address on this site, behind its prefix."""
        return self.prefix + path

    def static(self, name: str) -> str:
        """The address of one of our own files, with the site's tag so that it may be kept for ever."""
        return f"{self.prefix}/static/{name}?{self.tag}"


def site_of(datasette: Any) -> Site | None:
    """The site that a Datasette serves: the one it was made for, or else the first knowledge base among its databases."""
    if not hasattr(datasette, "kb_site"):
        datasette.kb_site = _found(datasette)
    site: Site | None = datasette.kb_site
    return site


def _found(datasette: Any) -> Site | None:
    for name, database in datasette.databases.items():
        if database.path and not database.is_mutable and _is_knowledge_base(database.path):
            return Site(Setup(str(database.path), datasette.setting("base_url")), name)
    return None


def _is_knowledge_base(path: str) -> bool:
    try:
        check_seal(Path(path))
    except FileError:
        return False
    return True
