"""What the themes' own markup leaves to be wished: names that are missing, attributes that mean nothing.

Each is mended in the page, since a copy of the theme's templates would lean on all the rest of them too. With
another theme, or once the theme has mended one itself, there is nothing to find and a page stays as it is.
"""

from __future__ import annotations

import re
from pathlib import Path

from build_tools.guide import wording

__all__ = ["TEMPLATES", "without_slips"]

TEMPLATES = Path(__file__).parent / "theme"
"""The few templates and pictures of our own, which every theme gets."""

_INPUT = re.compile(r"<input\b[^>]*>")
_SECTION = re.compile(
    r'<label class="md-nav__title" for="(__nav_[\d_]+)">\s*<span[^>]*></span>\s*([^<]*?)\s*</label>'
)


def without_slips(page: str) -> str:
    """The page's HTML, mended."""
    skip = f'<a class="ln-skip" href="#ln-content">{wording.SKIP}</a>'
    page = re.sub(r"<body\b[^>]*>", lambda found: f"{found[0]}\n{skip}", page, count=1)
    titles = dict(_SECTION.findall(page))
    page = re.sub(r'(<label\b[^>]*) tabindex="0?"', r"\1", page)  # its switch is what keys reach (access.css)
    page = re.sub(
        r'aria-labelledby="(__nav_[\d_]+)_label"',
        lambda found: f'aria-label="{titles[found[1]]}"' if titles.get(found[1]) else found[0],
        page,
    )
    page = re.sub(r' title="([^"]*)"( class="[^"]*") aria-label="\1"', r'\2 aria-label="\1"', page)
    page = page.replace('<div class="navbar fixed-top', '<div role="banner" class="navbar fixed-top')
    page = re.sub(r'<a rel="\w+" class="nav-link disabled">.*?</a>', "", page, flags=re.DOTALL)
    page = re.sub(r'<h4( class="modal-title"[^>]*>[^<]*)</h4>', r"<h2\1</h2>", page)
    return _INPUT.sub(lambda found: _mended_input(found[0]), page)


def _mended_input(tag: str) -> str:
    """Only what is typed can be completed; a switch that keys can reach has a name."""
    if 'type="checkbox"' in tag or 'type="radio"' in tag:
        tag = tag.replace(' autocomplete="off"', "")
    return tag.replace('data-md-toggle="drawer"', f'data-md-toggle="drawer" aria-label="{wording.CONTENTS}"')
