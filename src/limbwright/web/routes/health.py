"""Whether the server answers."""

from fastapi import APIRouter

from limbwright import __version__
from limbwright.web.wire import Health

router = APIRouter(prefix="/api/health", tags=["health"])


@router.get("")
async def health() -> Health:
    """The server answers."""
    return Health(ready=True, version=__version__)
