"""The wire: enrolment, entries and what the server says about itself, as tablets ask for them."""

import gzip
from collections import deque
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Query, Request, Response
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from pydantic import BaseModel, ConfigDict, Field

from shared_core.errors import RefusedError
from shared_core.exchange import Asking, Reply
from shared_core.logbook import BATCH, CORE_VERSION, Outcome
from shared_core.logbook_file import sqlite_version, sqlite_warning
from shared_core.portable import LARGEST_NUMBER, write_json
from sync_server.access import Access, Caller
from sync_server.bodies import read_body, unpacked
from sync_server.photos import PhotoIntake
from sync_server.problems import ProblemError, declared
from sync_server.settings import Settings
from sync_server.store import Store

NDJSON: Final = "application/x-ndjson"
WORTH_PACKING: Final = 1000  # bytes; below it a packed answer saves no packet
_BEARER: Final = HTTPBearer(auto_error=False, description="the token from /v1/enrol")

router = APIRouter(prefix="/v1")


@dataclass(kw_only=True)
class Parts:
    """What the routes work with; one for each app, kept in ``app.state.parts``."""

    settings: Settings
    store: Store
    access: Access
    photos: PhotoIntake
    clock: Callable[[], datetime]
    tries: dict[str, deque[datetime]] = field(default_factory=dict)


class Strict(BaseModel):
    """A body that holds what is named, of the kind that is named, and nothing else."""

    model_config = ConfigDict(strict=True, extra="forbid")


class EnrolAsk(Strict):
    """A one-time code, and the name the device goes by."""

    code: str = Field(min_length=1, max_length=200)
    device: str = Field(min_length=1, max_length=63)


class EnrolAnswer(Strict):
    """The token, shown once, and who it speaks for."""

    token: str
    name: str
    role: str
    sites: list[str]
    device: str
    server: str


class LineVerdict(Strict):
    """What became of one line."""

    entry: str
    outcome: Outcome
    why: str


class EntriesAnswer(Strict):
    """Verdicts in the order of the lines, and what arrived after the place asked for."""

    log: str
    verdicts: list[LineVerdict]
    has: int
    lines: list[str]
    place: int
    more: bool


class AboutAnswer(Strict):
    """What the server is."""

    name: str
    version: str
    wire: str
    log: str
    sqlite: str
    warning: str


def parts_of(request: Request) -> Parts:
    """Return the parts of the app that answers a request."""
    parts: Parts = request.app.state.parts
    return parts


def anyone(
    request: Request,
    given: Annotated[HTTPAuthorizationCredentials | None, Depends(_BEARER)],
) -> Caller:
    """Return who asks, even if their device was revoked.

    Raises:
        ProblemError: 401 without a known token.
    """
    caller = parts_of(request).access.who(given.credentials) if given else None
    if caller is None:
        raise ProblemError(
            401,
            "no-token",
            "a token of an enrolled device is needed",
            headers={"WWW-Authenticate": 'Bearer realm="strandline"'},
        )
    return caller


def welcome(caller: Annotated[Caller, Depends(anyone)]) -> Caller:
    """Return who asks, if their device may still read.

    Raises:
        ProblemError: 401 without a known token, 403 for a revoked device.
    """
    if caller.revoked_at is not None:
        raise ProblemError(403, "revoked", f"device {caller.device} was shut out")
    return caller


PartsHere = Annotated[Parts, Depends(parts_of)]
Anyone = Annotated[Caller, Depends(anyone)]
Welcome = Annotated[Caller, Depends(welcome)]
Place = Annotated[int, Query(ge=0, le=LARGEST_NUMBER, description="the place read up to")]
LogName = Annotated[str, Query(max_length=200, description="the log that place belongs to")]
Limit = Annotated[int, Query(ge=1, le=BATCH)]


@router.post("/enrol", responses=declared(403, 413, 422, 429))
def enrol(asked: EnrolAsk, request: Request, parts: PartsHere) -> EnrolAnswer:
    """Turn a one-time code into a device's token."""
    source = request.client.host if request.client else ""
    now = parts.clock()
    _count_try(parts, source, now)
    token, caller = parts.access.enrol(asked.code, asked.device, now, source)
    return EnrolAnswer(
        token=token,
        name=caller.name,
        role=caller.role,
        sites=list(caller.sites),
        device=caller.device,
        server=parts.store.log,
    )


def _count_try(parts: Parts, source: str, now: datetime) -> None:
    window = timedelta(seconds=parts.settings.enrol_window_s)
    for address in [a for a, tries in parts.tries.items() if now - tries[-1] > window]:
        del parts.tries[address]
    tries = parts.tries.setdefault(source, deque(maxlen=parts.settings.enrol_tries))
    if len(tries) == parts.settings.enrol_tries and now - tries[0] <= window:
        wait_s = max(1, round((window - (now - tries[0])).total_seconds()))
        raise ProblemError(
            429, "too-many-tries", "too many codes were tried from this address",
            headers={"Retry-After": str(wait_s)},
        )  # fmt: skip
    tries.append(now)


async def _packed_lines(request: Request, parts: PartsHere) -> bytes:
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != NDJSON:
        raise ProblemError(415, "wrong-type", f"entries come as {NDJSON}, one a line")
    return await read_body(request, parts.settings)


@router.post(
    "/entries",
    response_model=EntriesAnswer,
    responses=declared(401, 408, 413, 415, 422),
    openapi_extra={
        "requestBody": {"required": True, "content": {NDJSON: {"schema": {"type": "string"}}}}
    },
)
def post_entries(
    request: Request,
    parts: PartsHere,
    caller: Anyone,
    body: Annotated[bytes, Depends(_packed_lines)],
    after: Place = 0,
    log: LogName = "",
    limit: Limit = BATCH,
) -> Response:
    """Take entries in, a verdict a line, and answer with what arrived after a place."""
    encoding = request.headers.get("content-encoding", "").strip().lower()
    text = unpacked(body, encoding, parts.settings.decompressed_bytes)
    # a line that is no UTF-8 keeps its bytes as half characters, and is quarantined for them
    lines = [line.decode("utf-8", "surrogateescape") for line in text.split(b"\n") if line]
    if len(lines) > parts.settings.lines_per_request:
        most = parts.settings.lines_per_request
        raise ProblemError(413, "too-many-lines", f"at most {most:,} lines at once")
    return _entries(request, parts, caller, _asking(caller, lines, after, log, limit))


@router.get("/entries", response_model=EntriesAnswer, responses=declared(401, 403, 422))
def get_entries(
    request: Request,
    parts: PartsHere,
    caller: Welcome,
    after: Place = 0,
    log: LogName = "",
    limit: Limit = BATCH,
) -> Response:
    """Return what this device may see of what arrived after a place."""
    return _entries(request, parts, caller, _asking(caller, [], after, log, limit))


def _asking(caller: Caller, lines: list[str], after: int, log: str, limit: int) -> Asking:
    return Asking(device=caller.device, lines=lines, after=after, log=log, limit=limit)


def _entries(request: Request, parts: Parts, caller: Caller, asking: Asking) -> Response:
    body = _written(parts.store.taken_in(caller, asking)).encode()
    headers = {"Vary": "Accept-Encoding"}
    if "gzip" in request.headers.get("accept-encoding", "") and len(body) > WORTH_PACKING:
        body = gzip.compress(body, 6, mtime=0)
        headers["Content-Encoding"] = "gzip"
    return Response(body, 200, headers, "application/json")


def _written(reply: Reply) -> str:
    verdicts = [asdict(verdict) for verdict in reply.verdicts]
    return write_json({**asdict(reply), "verdicts": verdicts})


@router.get("/about", responses=declared(401, 403))
def about(parts: PartsHere, caller: Welcome) -> AboutAnswer:
    """Tell what this server is, and what its coordinator should know about it."""
    del caller
    return AboutAnswer(
        name="Strandline",
        version=CORE_VERSION,
        wire="v1",
        log=parts.store.log,
        sqlite=sqlite_version(),
        warning=sqlite_warning(),
    )


def refuse_stranger(parts: Parts, caller: Caller, sha256: str) -> None:
    """Refuse a photo that belongs to no record this caller may see.

    Raises:
        RefusedError: if it does not; the answer is the same for a photo that is not here.
    """
    if not parts.store.shows_photo(caller, sha256):
        raise RefusedError("no record that you may see names this photo")
