"""The session cookie: for this server alone, out of reach of scripts."""

from fastapi import Request, Response

from limbwright.web.guard import COOKIE


def set_session(response: Response, request: Request, token: str) -> None:
    """Give the browser its session."""
    response.set_cookie(
        COOKIE, token, path="/", httponly=True, samesite="strict", secure=request.url.scheme == "https"
    )
