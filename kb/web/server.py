"""The server: one immutable file, opened by as many processes as wanted.

`create_app` is an ASGI factory: `uvicorn --factory kb.web.server:create_app`, with KB_DB naming the file. A new build of the
file needs a restart: a running process keeps answering from the one that it opened.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported: threads of its own would fight with the desk's

import socket
import sys
from collections.abc import Callable
from typing import Any

import datasette.handle_exception
import uvicorn
from datasette.app import Datasette
from datasette.database import Database
from uvicorn.supervisors import Multiprocess

from kb.web.punctual import Punctual
from kb.web.site import DATABASE, Setup, Site
from kb.words.errors import FileError

MOST_CONNECTIONS = 500  # of one process; further visitors are told at once that it is busy
SETUP = "KB_WEB_SETUP"  # environment variable: a Setup as JSON, for further processes of one server
_SETTINGS = {
    "suggest_facets": False,  # on a million rows they cost more than the page
    "default_allow_sql": False,
    "default_page_size": 25,
    "max_returned_rows": 1000,
    "allow_csv_stream": True,
    "default_cache_ttl": 0,
    "truncate_cells_html": 400,
}


class Served(Datasette):  # type: ignore[misc]
    """A Datasette that serves one knowledge base, closed where it would be open by default."""

    def __init__(self, setup: Setup) -> None:
        """Open the file.

        Raises:
            FileError: no such file, or not a knowledge base.
        """
        self.kb_site = site = Site(setup)  # before anything asks the plugin for its routes
        settings = {**_SETTINGS, "base_url": setup.base_url, "allow_download": setup.download}
        super().__init__([], settings=settings, cors=setup.cors)
        self.add_database(Database(self, path=str(site.path), is_mutable=False), name=DATABASE)
        self.remove_database("_memory")

    def close(self) -> None:
        """Let the threads end and close the file."""
        self.kb_site.desk.close()
        self.executor.shutdown()
        for database in self.databases.values():
            database.close()


def create_app() -> Any:
    """The ASGI application; its set-up comes from the environment: KB_WEB_SETUP, or else KB_DB."""
    given = os.environ.get(SETUP)
    setup = Setup.from_json(given) if given else Setup(os.environ.get("KB_DB", "kb.db"))
    datasette.handle_exception.rich = None  # it would print every local variable of every wrong address
    sys.setswitchinterval(0.001)  # numeric: a desk thread in the middle of an answer lets the event loop through
    return Served(setup).app()


def start(setup: Setup, host: str, port: int, workers: int, say: Callable[[str], None]) -> None:
    """Listen and answer until it is interrupted. say: told which build is served, and where once the port is taken.

    Raises:
        FileError: the file is no knowledge base, or the port cannot be had.
    """
    site = Site(setup)  # says at once if it is not a knowledge base
    site.desk.close()
    os.environ[SETUP] = setup.to_json()
    say(f"{setup.path}: build {site.build}, program version {site.version}.")
    if site.has_private:
        say("It holds private columns (observers, evidence, offers). Build with --public before others may look.")
    config = uvicorn.Config(
        "kb.web.server:create_app", factory=True, host=host, port=port, workers=workers, log_level="warning", access_log=False, lifespan="on",
        server_header=False, timeout_keep_alive=30, http=Punctual, limit_concurrency=MOST_CONNECTIONS,
    )  # fmt: skip
    listening = _listen(host, port, workers)
    shown = f"[{host}]" if ":" in host else host
    say(f"http://{shown}:{listening.getsockname()[1]}{setup.base_url}  (Ctrl-C ends it)")
    if workers > 1:
        Multiprocess(config, sockets=[listening]).run()
    else:
        uvicorn.Server(config).run(sockets=[listening])


class Shared(socket.socket):
    """A port held for several processes: each that is handed it listens on a socket of its own, and the kernel shares out the visitors
    (SO_REUSEPORT, socket(7)). On one socket for all, the process that wakes first takes everybody who is waiting."""

    def __reduce__(self) -> tuple[Any, ...]:
        return _opened, (*self.getsockname()[:2], True)


def _opened(host: str, port: int, shared: bool) -> socket.socket:
    """A listening socket."""
    opened = _bound(host, port, shared)
    opened.listen(2048)
    opened.set_inheritable(True)
    return opened


def _bound(host: str, port: int, shared: bool) -> socket.socket:
    bound = (Shared if shared else socket.socket)(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    # Connections inherit it. Without it a kept-alive connection of several workers waits 40 ms for each answer (uvicorn issue 3149).
    bound.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    if shared:
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
    try:
        bound.bind((host, port))
    except OSError:
        bound.close()
        raise
    return bound


def _listen(host: str, port: int, workers: int) -> socket.socket:
    """The socket to listen on: one for all, or the port for each process to open by itself where the system can share it.

    Raises:
        FileError: the port cannot be had.
    """
    shared = workers > 1 and hasattr(socket, "SO_REUSEPORT")
    try:
        if not shared:
            return _opened(host, port, shared)
        with _bound(host, port, False) as free:  # nobody else has it: a shared port would be shared with another server without a word
            port = free.getsockname()[1]
        return _bound(host, port, shared)
    except OSError as error:
        raise FileError(f"Port {port} of {host} cannot be used: {error.strerror or error}.", "Name another one with --port.") from error
