"""Pages printed from view objects: escaped, and no name left undefined."""

from collections.abc import Mapping
from dataclasses import fields
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from bolewalk import __version__
from bolewalk.desk.accounts.access import access_of, begin_visit_cookie, person_of
from bolewalk.desk.accounts.tokens import with_fields
from bolewalk.desk.static_files import static_url
from bolewalk.papers.drawings import mark_svgs

__all__ = ["environment", "page"]


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Give the templates, ready to print."""
    made = Environment(
        loader=PackageLoader("bolewalk.desk", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["static"] = static_url
    made.globals["version"] = __version__
    # Linework of our own making, without any text from outside in it.
    made.globals["marks"] = {
        name: Markup(drawn.strip().replace("<svg ", '<svg aria-hidden="true" '))
        for name, drawn in mark_svgs().items()
    }
    return made


def page(
    request: Request,
    template: str,
    view: Any,
    *,
    status: int = 200,
    headers: Mapping[str, str] | None = None,
) -> HTMLResponse:
    """Print a page.

    Parameters
    ----------
    request : Request
        For the reader's own settings (type size), and the token of their forms.
    template : str
        Name of the template, without its ending.
    view : frozen dataclass
        Its fields are the names the template knows.
    """
    values = {f.name: getattr(view, f.name) for f in fields(view)}
    token, visit = access_of(request).form_token(request)
    person = person_of(request)
    large = request.cookies.get("type") == "large"
    here = request.url.path
    text = environment().get_template(f"{template}.html").render(
        values, person=person, form_token=token, large=large, here=here,
        address=here + (f"?{request.url.query}" if request.url.query else ""),
    )  # fmt: skip
    if token:
        text = with_fields(text, token)
    answer = HTMLResponse(text, status_code=status, headers=dict(headers or {}))
    if visit:
        begin_visit_cookie(request, answer, visit)
    return answer
