"""One place that sets up templates: everything escaped, nothing undefined, lines kept as written.

For: whoever writes a page or a letter from a template of its own package. Must not know: what a page says.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any


@lru_cache(maxsize=8)
def environment(package: str = "shipwindow.advisory") -> Any:  # noqa: ANN401 - Jinja2's own type, imported only here
    """Give the templates of a package, which lie in its folder ``templates``; ``view`` is known to all of them."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    from shipwindow.advisory import view

    made = Environment(
        loader=PackageLoader(package, "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.globals["view"] = view
    return made


def page(name: str, package: str = "shipwindow.advisory", **values: object) -> str:
    """Render a template."""
    text: str = environment(package).get_template(name).render(**values)
    return text
