"""`limbwright serve`: the workbench on this machine, in the browser."""

import errno
import gc
import socket
import threading
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from limbwright.cli import options, show
from limbwright.error import Refused

if TYPE_CHECKING:
    from fastapi import FastAPI

DEFAULT_PORT = 8765


@click.command("serve")
@options.home
@options.database
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to listen on.",
)
@click.option("--port", type=click.IntRange(1, 65535), default=DEFAULT_PORT, show_default=True, help="Port.")
@click.option(
    "--also-known-as",
    "other_hosts",
    multiple=True,
    metavar="NAME[:PORT]",
    help="Further name under which browsers reach the server.",
)
@click.option("--open-demo", is_flag=True, help="Put the invented demo cases into the store first.")
def command(
    *, home: Path, database: str | None, host: str, port: int, other_hosts: tuple[str, ...], open_demo: bool
) -> None:
    """Serve the workbench to browsers until interrupted."""
    from limbwright.cli.demo_store import fill_with_courses, fill_with_demo
    from limbwright.store.store import open_store
    from limbwright.web.app import create_app
    from limbwright.web.assist.warm import warm_up
    from limbwright.web.settings import Settings

    settings = Settings(home=home, database=database, host=host, port=port, other_hosts=other_hosts)
    with open_store(home, database=database) as store:
        if not settings.on_loopback and not any(user.active for user in store.users.all()):
            raise Refused(
                f"{host} can be reached by other machines, and there is no user with a password.",
                where="serve",
                next_step="Add one with `limbwright user NAME --may sign`, or serve on 127.0.0.1.",
            )
        if open_demo:
            with show.progress("Taking the films of the invented cases"):
                fill_with_demo(store)
                fill_with_courses(store)
        name = f"[{host}]" if ":" in host else host
        with listening(host, port) as listener:
            app = create_app(settings, store=store)
            # What was imported stays for good; without this a collection in a drag walks all of it.
            gc.collect()
            gc.freeze()
            show.console().print(f"Workbench at http://{name}:{port}/ (stop with Ctrl+C)", markup=False)
            show.caution()
            threading.Thread(target=warm_up, name="warm-up", daemon=True).start()
            _run(app, listener)
    show.console().print("Stopped. Everything that was saved is kept.", markup=False)


def listening(host: str, port: int) -> socket.socket:
    """A socket that listens there.

    Raises
    ------
    Refused
        When the port is taken or the address is not this machine's.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # Named as TCP: only then does the event loop send small answers at once, not 40 ms later.
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen(100)
    except OSError as error:
        listener.close()
        taken = error.errno == errno.EADDRINUSE
        raise Refused(
            f"port {port} is taken: another program, perhaps a workbench, listens there."
            if taken
            else f"{host}:{port} cannot be listened on ({error.strerror}).",
            where="serve",
            next_step=f"Stop the other program, or choose another port: --port {port + 1} "
            f"(make demo PORT={port + 1})."
            if taken
            else "Give an address of this machine, and a port from 1024 on.",
        ) from None
    return listener


def _run(app: "FastAPI", listener: socket.socket) -> None:
    """Answer until interrupted."""
    import uvicorn

    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,  # addresses of requests name cases; the audit log is kept in the store
        server_header=False,
        date_header=True,
        timeout_keep_alive=30,
        limit_concurrency=200,
    )
    with suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[listener])
