"""`tilegen desk`: the local page."""

from __future__ import annotations

import contextlib
import socket
import threading
import webbrowser
from pathlib import Path

from tilegen.cli.telling import say
from tilegen.errors import InputError, install, refused

HOST = "127.0.0.1"
MOST_PORT = 65535


def run_desk(port: int, *, plan: Path | None = None, browser: bool, quiet: bool) -> None:
    """Serve the page on this machine until it is stopped.

    plan: the file that is edited; without one the sheet is empty.

    Raises:
        InputError: the extra is not installed, the port is taken, or the file is no plan.
    """
    try:
        import uvicorn

        from tilegen.desk.app import make_app
        from tilegen.desk.edits import parse
        from tilegen.desk.keeping import PlanOnDisk, steps_at_home
    except ModuleNotFoundError as error:
        raise InputError(
            f"the desk needs {error.name}, which is not installed", cure=f"Install it: {install('desk')}"
        ) from None
    disk = PlanOnDisk(plan) if plan is not None else None
    try:
        parse(disk.read()) if disk else None
    except InputError as error:
        raise error.located(file=str(plan)) from None
    listening = listen(port)
    port = listening.getsockname()[1]
    address = f"http://{HOST}:{port}/"
    steps, unkept = steps_at_home()
    if not quiet:
        saves = f" Save (Ctrl+S) writes {plan}." if plan else ""
        say(f"The desk is at {address} (this machine only).{saves} Ctrl+C ends it; what you drew is kept.")
    if unkept:
        say(unkept, err=True)
    if browser:
        threading.Timer(0.8, webbrowser.open, (address,)).start()
    config = uvicorn.Config(make_app(port, steps, disk), log_level="warning", lifespan="on", timeout_keep_alive=30)
    with contextlib.suppress(KeyboardInterrupt):  # the way to end it
        uvicorn.Server(config).run(sockets=[listening])


def listen(port: int) -> socket.socket:
    """A socket on this machine only; port 0: any that is free."""
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((HOST, port))
    except OSError as error:
        found.close()
        raise InputError(
            f"port {port} can't be used: {refused(error).text}",
            cure=f"If a desk of yours runs already, open http://{HOST}:{port}/ in the browser; "
            f"or choose another port: tilegen desk --port {port + 1 if port < MOST_PORT else port - 1}",
            place="--port",
        ) from None
    return found
