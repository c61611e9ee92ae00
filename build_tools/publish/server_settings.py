"""Sample settings for web servers, each from the template in `servers/` and the one policy."""

from __future__ import annotations

from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from build_tools.pages import server_policy

__all__ = ["sample_settings"]

_TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "servers"),
    undefined=StrictUndefined,
    keep_trailing_newline=True,
    autoescape=lambda name: name == "web.config",
)


def sample_settings(title: str, page: str) -> dict[str, str]:
    """File name -> text. `title`: the guide's; `page`: the title of the page that explains them."""
    values = {
        "title": title,
        "page": page,
        "headers": server_policy.HEADERS,
        "types": server_policy.TYPES,
        "compressed": server_policy.COMPRESSED,
        "unchanging": server_policy.UNCHANGING,
        "python": {"folder": server_policy.PYTHON_FOLDER, "policy": server_policy.PYTHON_POLICY},
    }
    return {
        name: _TEMPLATES.get_template(name).render(values) for name in sorted(_TEMPLATES.list_templates())
    }
