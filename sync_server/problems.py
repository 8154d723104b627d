"""Every error of the server as a problem document (RFC 9457), without a trace of the inside."""

import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException as StarletteHTTPException

from shared_core.errors import (
    DamagedError,
    OutsideRangeError,
    RefusedError,
    StrandlineError,
    UnknownError,
)
from shared_core.portable import write_json

MEDIA_TYPE: Final = "application/problem+json"
_LOG: Final = logging.getLogger("sync_server")
_STATUS_OF: Final[Mapping[type[StrandlineError], int]] = {
    RefusedError: 403,
    UnknownError: 404,
    DamagedError: 409,
    OutsideRangeError: 422,
}


class Problem(BaseModel):
    """What went wrong, as RFC 9457 section 3.1 asks."""

    model_config = ConfigDict(extra="allow")

    type: str = Field(description="names the situation; stable across versions")
    title: str
    status: int
    detail: str = ""


class ProblemError(Exception):
    """Raised inside a route to answer with a problem document."""

    def __init__(
        self,
        status: int,
        name: str,
        detail: str = "",
        *,
        headers: Mapping[str, str] | None = None,
        **members: Any,  # noqa: ANN401 - RFC 9457 section 3.2: a problem may carry its own members
    ) -> None:
        super().__init__(detail)
        self.status = status
        self.name = name
        self.detail = detail
        self.headers = headers
        self.members = members


def declared(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return the declaration of these error answers for a route."""
    return {
        status: {"model": Problem, "description": HTTPStatus(status).phrase}
        for status in sorted({400, 500, *statuses})
    }


def problem(error: ProblemError) -> Response:
    """Return the answer for a problem."""
    body = {
        "type": f"urn:strandline:problem:{error.name}",
        "title": HTTPStatus(error.status).phrase,
        "status": error.status,
        "detail": error.detail,
        **error.members,
    }
    headers = {"X-Content-Type-Options": "nosniff", "Cache-Control": "no-store"}
    return Response(
        write_json(body), error.status, {**headers, **(error.headers or {})}, MEDIA_TYPE
    )


def answer_with_problems(app: FastAPI) -> None:
    """Make an app answer every error with a problem document."""

    @app.exception_handler(ProblemError)
    def raised(_: Request, error: ProblemError) -> Response:
        return problem(error)

    @app.exception_handler(StarletteHTTPException)
    def http(_: Request, error: StarletteHTTPException) -> Response:
        phrase = HTTPStatus(error.status_code).phrase.lower().replace(" ", "-")
        detail = "" if error.detail == HTTPStatus(error.status_code).phrase else str(error.detail)
        return problem(ProblemError(error.status_code, phrase, detail, headers=error.headers))

    @app.exception_handler(RequestValidationError)
    def invalid(_: Request, error: RequestValidationError) -> Response:
        errors = [
            {"where": [str(part) for part in found["loc"]], "says": str(found["msg"])[:300]}
            for found in error.errors()[:20]
        ]
        detail = "the request does not have the form that is needed"
        return problem(ProblemError(422, "wrong-form", detail, errors=errors))

    @app.exception_handler(StrandlineError)
    def on_purpose(_: Request, error: StrandlineError) -> Response:
        status = next((s for kind, s in _STATUS_OF.items() if isinstance(error, kind)), 422)
        name = {403: "refused", 404: "unknown", 409: "damaged"}.get(status, "unreadable")
        return problem(ProblemError(status, name, str(error)))

    @app.exception_handler(Exception)
    def unforeseen(request: Request, error: Exception) -> Response:
        _LOG.error("unforeseen error in %s", request.url.path[:200], exc_info=error)
        return problem(ProblemError(500, "fault", "the server met a fault of its own; see its log"))
