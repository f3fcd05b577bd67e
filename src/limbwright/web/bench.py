"""What the routes of one server share."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request

from limbwright.store.store import Store
from limbwright.web.film.lightbox import Lightbox
from limbwright.web.gate import Gate
from limbwright.web.page import Pages
from limbwright.web.practice import PracticeReader
from limbwright.web.settings import Settings
from limbwright.web.work.room import WorkRoom


@dataclass(frozen=True, slots=True, kw_only=True)
class Workbench:
    """Store, decoded films, open light tables, logins and page templates."""

    settings: Settings
    store: Store
    gate: Gate
    lightbox: Lightbox
    practice: PracticeReader
    work: WorkRoom
    pages: Pages


async def workbench(request: Request) -> Workbench:
    """The workbench of the application that answers."""
    found: Workbench = request.app.state.workbench
    return found


Bench = Annotated[Workbench, Depends(workbench)]
"""For the signature of a route."""
