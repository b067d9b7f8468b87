"""``colophony studio serve``: the pages, for this computer only."""

from __future__ import annotations

import contextlib
import os
import socket
import threading
import webbrowser
from pathlib import Path
from typing import Any

from colophony.errors import InputError
from colophony.language import _

OWN_ADDRESSES = ("127.0.0.1", "::1", "localhost")
#: How the server speaks WebSocket: no message is long, none is squeezed, a page that is gone is noticed.
WEBSOCKETS: dict[str, Any] = {
    "ws": "websockets-sansio",
    "ws_max_size": 4096,
    "ws_per_message_deflate": False,
    "ws_ping_interval": 20.0,
}


def serve(
    studio_folder: Path,
    *,
    host: str = "127.0.0.1",
    port: int = 8427,
    open_browser: bool = True,
    maps_folder: Path | None = None,
) -> None:
    """Serve the studio's pages until the program is interrupted.

    Parameters
    ----------
    studio_folder
        Where the studio lives; made when there is none.
    host
        An address of this computer: 127.0.0.1, ::1 or localhost. The pages have no login, so no other
        is taken.
    port
        0 to 65535; 0 takes any free one.
    open_browser
        Show the first page in the browser once it answers.
    maps_folder
        Where computed maps are kept; only in memory where there is none.

    Raises
    ------
    InputError
        When the address is not this computer's own, or the port is taken.
    StudioError
        When the studio cannot be opened.
    """
    import uvicorn

    from colophony.app.web import bench_map, bow_stream
    from colophony.app.web.site import create_app

    listening = _listen(host, port)
    with listening:
        shown = f"[{host}]" if ":" in host else host
        address = f"http://{shown}:{listening.getsockname()[1]}/"
        app = create_app(studio_folder, maps_folder=maps_folder)
        app.state.desk.queue.warm_up()
        for warm_up in (bow_stream.warm_up, bench_map.warm_up):
            threading.Thread(target=warm_up, daemon=True).start()
        line = _("The studio in {folder} is open at {address} (Ctrl+C closes it).")
        print(line.format(folder=studio_folder, address=address), flush=True)
        if open_browser:
            threading.Timer(0.8, webbrowser.open, (address,)).start()
        # No access log: addresses name students and takes.
        config = uvicorn.Config(app, log_level="warning", access_log=False, server_header=False, **WEBSOCKETS)
        # An interrupt is how the studio is closed, and no error.
        with contextlib.suppress(KeyboardInterrupt):
            uvicorn.Server(config).run(sockets=[listening])


def _listen(host: str, port: int) -> socket.socket:
    """Return a listening socket on an address of this computer only."""
    if not 0 <= port <= 65535:
        line = _("Port {port} does not exist: choose one from 1024 to 65535.")
        raise InputError(line.format(port=port))
    if host not in OWN_ADDRESSES:
        raise InputError(
            _(
                "{host} is refused: the pages have no login, so only this computer may open them; use "
                "127.0.0.1."
            ).format(host=host)
        )
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        if os.name == "posix":  # on Windows the same word lets two programs share a port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((host, port))
        listening.listen(128)
    except OSError as error:
        listening.close()
        raise InputError(
            _("Port {port} on {host} cannot be used ({why}): give another, or 0 for any free one.").format(
                port=port, host=host, why=error.strerror
            )
        ) from None
    return listening
