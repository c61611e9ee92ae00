"""A web server that gives a guide in editions, and can be stopped or made to fail."""

from __future__ import annotations

import shutil
from collections import Counter
from pathlib import Path

from build_tools.bench.local_server import LocalServer, Quiet

WHERE = "Feld für Straßen & mehr/guide"


class Server:
    """A web server at WHERE of its host that can be stopped, given another edition, or made to fail."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.asked, self.failing = folder, Counter[str](), set[str]()
        self.port, self.down = 0, False
        self.start()

    def start(self) -> None:
        outer, self.down = self, False

        class Handler(Quiet):
            def do_GET(self) -> None:
                if outer.down:  # a connection that the browser had opened in advance
                    return
                path = self.translate_path(self.path)
                name = path.removeprefix(str(outer.folder / WHERE)).strip("/")
                outer.asked[name] += 1
                if name in outer.failing:
                    self.send_error(503)
                else:
                    super().do_GET()

        self.server = LocalServer(self.folder, Handler, self.port)
        self.port = self.server.server_port

    def stop(self) -> None:
        """As when the network is gone."""
        self.down = True
        self.server.shutdown()
        self.server.server_close()

    def publish(self, site: Path) -> None:
        target = self.folder / WHERE
        shutil.rmtree(target, ignore_errors=True)
        shutil.copytree(site, target)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/Feld%20f%C3%BCr%20Stra%C3%9Fen%20%26%20mehr/guide"
