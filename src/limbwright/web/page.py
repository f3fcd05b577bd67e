"""Pages: one typed value each, written into the template and, as data, for the page's script."""

import json
from dataclasses import asdict, dataclass, field
from importlib.resources import files
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FunctionLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from limbwright import __version__
from limbwright.case.caution import CAUTION
from limbwright.web.cookie import set_session
from limbwright.web.gate import Identity
from limbwright.web.guard import csrf_token


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What one page is given; `data` is what its script reads."""

    page: str
    """Name of the page; its template is `<page>.html`."""
    title: str
    """Title of the window."""
    data: dict[str, Any] = field(default_factory=dict)
    """The page's own data, plain JSON."""
    case_id: str | None = None
    """Case the page is about; None for pages of the practice."""


class Pages:
    """The templates."""

    def __init__(self) -> None:
        self._templates = Environment(
            loader=FunctionLoader(_template),
            autoescape=select_autoescape(default=True),
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )

    def shown(
        self, request: Request, page: Page, identity: Identity | None, *, status: int = 200
    ) -> HTMLResponse:
        """A page with its session."""
        token: str = request.state.token
        user = None if identity is None else {**asdict(identity), "role": identity.role.value}
        csrf = csrf_token(token)
        frame = {
            "page": page.page,
            "user": user,
            "caution": CAUTION,
            "csrf": csrf,
            "version": __version__,
            "case_id": page.case_id,
        }
        html = self._templates.get_template(f"{page.page}.html").render(
            page=page.page,
            title=page.title,
            case_id=page.case_id,
            data=page.data,
            user=user,
            csrf=csrf,
            caution=CAUTION,
            version=__version__,
            page_data=script_data({**frame, **page.data}),
        )
        answer = HTMLResponse(html, status_code=status)
        set_session(answer, request, token)
        return answer


def script_data(content: dict[str, Any]) -> Markup:
    """JSON that can stand inside a script element: nothing in it can end the element or start a comment."""
    text = json.dumps(content, ensure_ascii=True, allow_nan=False)
    return Markup(
        text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
    )  # escaped here


def _template(name: str) -> str | None:
    """Only templates of this package, by plain names."""
    if "/" in name or "\\" in name or not name.endswith(".html"):
        return None
    path = files("limbwright.web") / "templates" / name
    return path.read_text(encoding="utf-8") if path.is_file() else None
