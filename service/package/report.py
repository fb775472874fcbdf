"""The report of a job as one page: made from entries, state and media alone; same head, same bytes.

The page needs nothing but the package that it lies in: style and drawings are in it, pictures beside it.
"""

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, Template, select_autoescape
from markupsafe import Markup


@lru_cache(maxsize=1)
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("service.package", "."),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("page.html")


def report_page(facts: Mapping[str, Any]) -> str:
    """Return the report as HTML, from what `report_facts` says."""
    return _template().render(facts, drawn=Markup)
