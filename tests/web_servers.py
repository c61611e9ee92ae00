"""nginx and Apache on the sample settings of an archive, each as an ordinary user on a free port."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from build_tools.setup import programs

SERVERS = ("nginx", "apache")

_NGINX = """\
daemon off; master_process off; pid nginx.pid; error_log stderr warn;
events {}
http {
  access_log off;
  client_body_temp_path body; proxy_temp_path proxy; fastcgi_temp_path fastcgi; uwsgi_temp_path uwsgi;
  scgi_temp_path scgi;
  include site.conf;
}
"""
_MODULES = ("mpm_event", "authz_core", "headers", "mime", "dir", "deflate", "filter")


@contextmanager
def running(kind: str, settings: str, site: Path) -> Iterator[str]:
    """The address of a site served by the program `kind`: `settings` as shipped, but for port and folder."""
    program = programs.found_on_path(("nginx",) if kind == "nginx" else programs.APACHE)
    if not program:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(f"{kind} is not installed")
    with tempfile.TemporaryDirectory(prefix="web-") as folder:
        home, port = Path(folder), _free_port()
        shutil.copytree(site, home / "site")
        (home / "site.conf").write_text(_for_here(settings, home / "site", port), "utf-8")
        command = {"nginx": _nginx, "apache": _apache}[kind](program, home, port)
        user = {"user": "nobody", "group": "nogroup", "extra_groups": []} if os.geteuid() == 0 else {}
        if user:
            subprocess.run(["chown", "-R", "nobody:nogroup", folder], check=True)
        with subprocess.Popen(command, stderr=subprocess.PIPE, text=True, **user) as server:  # type: ignore[call-overload]
            try:
                _wait_for(port, server)
                yield f"http://127.0.0.1:{port}"
            finally:
                server.terminate()


def _for_here(settings: str, site: Path, port: int) -> str:
    for old, new in (
        ("listen 80;", f"listen 127.0.0.1:{port};"),
        ("<VirtualHost *:80>", f"<VirtualHost 127.0.0.1:{port}>"),
        ("/srv/lost-neutral/site", str(site)),
    ):
        settings = settings.replace(old, new)
    return settings


def _nginx(program: Path, home: Path, port: int) -> list[str]:
    (home / "nginx.conf").write_text(_NGINX, "utf-8")
    return [str(program), "-p", str(home), "-c", "nginx.conf", "-e", "stderr"]


def _apache(program: Path, home: Path, port: int) -> list[str]:
    modules = next(
        folder
        for folder in (Path("/usr/lib/apache2/modules"), program.parent.parent / "lib/httpd/modules")
        if folder.is_dir()
    )
    loaded = "".join(f"LoadModule {name}_module {modules}/mod_{name}.so\n" for name in _MODULES)
    (home / "main.conf").write_text(
        f'{loaded}ServerRoot "{home}"\nDefaultRuntimeDir "{home}"\nPidFile "{home}/pid"\nMutex pthread\n'
        f'ServerName localhost\nListen 127.0.0.1:{port}\nErrorLog "{home}/errors"\nTypesConfig /dev/null\n'
        f'<Directory "/">\nRequire all denied\n</Directory>\nInclude "{home}/site.conf"\n',
        "utf-8",
    )
    return [str(program), "-f", str(home / "main.conf"), "-D", "FOREGROUND"]


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return int(taken.getsockname()[1])


def _wait_for(port: int, server: subprocess.Popen[str]) -> None:
    for _ in range(100):
        if server.poll() is not None:
            assert server.stderr
            pytest.fail(f"the server did not start: {server.stderr.read()}")
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    pytest.fail("the server does not answer")
