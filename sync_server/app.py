"""The server as one app: where store, access, photos and routes meet, and the real clock enters."""

import contextlib
import secrets
from collections.abc import AsyncIterator, Callable, Sequence
from datetime import UTC, datetime
from typing import Final

from fastapi import APIRouter, FastAPI
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from shared_core.identity import uuid7
from sync_server import wire, wire_photos
from sync_server.access import Access
from sync_server.access_store import FILE_NAME, AccessStore
from sync_server.photos import PhotoIntake
from sync_server.problems import answer_with_problems
from sync_server.settings import Settings
from sync_server.store import Store

RANDOM_BITS: Final = 74  # of a UUIDv7, RFC 9562 section 5.7
PRIVATE: Final = {  # OWASP secure headers; a page that needs more sets its own
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


def real_clock() -> datetime:
    """Return the time now, UTC."""
    return datetime.now(UTC)


def real_id() -> str:
    """Return a new name for an entry or a record."""
    return uuid7(int(real_clock().timestamp() * 1000), secrets.randbits(RANDOM_BITS))


class GuardedHeaders:
    """Adds the headers that keep browsers from guessing, framing and storing."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on and its answer back with more headers."""

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in PRIVATE.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, guarded if scope["type"] == "http" else send)


def create_app(
    settings: Settings,
    *,
    clock: Callable[[], datetime] = real_clock,
    new_id: Callable[[], str] = real_id,
    secret: Callable[[int], bytes] = secrets.token_bytes,
    routers: Sequence[APIRouter] = (),
) -> FastAPI:
    """Build the app over a data folder; it closes its files when it is shut down.

    Args:
        settings: where and how much.
        clock: tells the time, UTC.
        new_id: gives names to entries and records.
        secret: gives random bytes for codes and tokens.
        routers: further routes, such as the coordinator's pages.

    Raises:
        RefusedError: if another program has the data folder open.
        DamagedError: if a file there is not what it should be.
    """
    store = Store(settings.data, clock=clock, new_id=new_id, reply_bytes=settings.reply_bytes)
    try:
        people = AccessStore(settings.data / FILE_NAME)
    except BaseException:
        store.close()
        raise

    @contextlib.asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        yield
        people.close()
        store.close()

    app = FastAPI(
        title="Strandline", docs_url=None, redoc_url=None, openapi_url=None, lifespan=life
    )
    app.state.parts = wire.Parts(
        settings=settings,
        store=store,
        access=Access(people, secret=secret),
        photos=PhotoIntake(settings),
        clock=clock,
    )
    answer_with_problems(app)
    for router in (wire.router, wire_photos.router, *routers):
        app.include_router(router)
    app.add_middleware(GuardedHeaders)
    return app
