"""The wire for photos: how much of it is here, a further piece, the whole.

Header names as in the IETF draft on resumable uploads (draft-ietf-httpbis-resumable-upload); a
photo's address is the SHA-256 of its bytes, so making and ending an upload need no calls of their
own.
"""

from collections.abc import Mapping
from typing import Annotated, Final

from fastapi import APIRouter, Header, Path, Request, Response
from fastapi.responses import FileResponse

from shared_core.portable import LARGEST_NUMBER
from sync_server.bodies import pieces
from sync_server.photos import Taken
from sync_server.pictures import media_type
from sync_server.problems import ProblemError, declared
from sync_server.wire import PartsHere, Welcome, refuse_stranger

router = APIRouter(prefix="/v1")

Sha256 = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$", description="SHA-256 of the bytes")]
Offset = Annotated[int, Header(ge=0, le=LARGEST_NUMBER, description="bytes already there")]
Complete = Annotated[
    str | None, Header(pattern=r"^\?[01]$", description="?1: the photo ends here; ?0: more comes")
]

_PROBLEMS: Final[Mapping[str, tuple[int, str, str]]] = {
    "wrong offset": (409, "wrong-offset", "go on from the offset given"),
    "overtaken": (409, "overtaken", "a later request sends this photo"),
    "too large": (413, "too-large", "the photo is too large"),
    "too many pixels": (413, "too-many-pixels", "the photo has too many pixels"),
    "no picture": (415, "no-picture", "only photos are kept"),
    "other bytes": (422, "other-bytes", "these are not the bytes of that name; send it again"),
}


@router.head("/photos/{sha256}", responses=declared(401, 403, 422))
async def head_photo(sha256: Sha256, parts: PartsHere, caller: Welcome) -> Response:
    """Tell how many bytes of a photo are here, in the header Upload-Offset."""
    del caller
    return Response(headers=_headers(await parts.photos.look(sha256)))


@router.patch(
    "/photos/{sha256}",
    status_code=204,
    responses=declared(401, 403, 408, 409, 413, 415, 422),
    openapi_extra={
        "requestBody": {
            "required": False,
            "content": {
                "application/octet-stream": {"schema": {"type": "string", "format": "binary"}}
            },
        }
    },
)
async def patch_photo(
    sha256: Sha256,
    request: Request,
    parts: PartsHere,
    caller: Welcome,
    upload_offset: Offset,
    upload_complete: Complete = None,
) -> Response:
    """Append bytes at an offset; the photo is whole once they have its fingerprint."""
    del caller
    stream = pieces(request, parts.settings.idle_s)
    last = None if upload_complete is None else upload_complete == "?1"
    taken = await parts.photos.take(sha256, upload_offset, stream, last=last)
    if taken.outcome in _PROBLEMS:
        status, name, detail = _PROBLEMS[taken.outcome]
        raise ProblemError(
            status,
            name,
            f"{detail}: {taken.why}" if taken.why else detail,
            headers=_headers(taken),
            **{"expected-offset": taken.offset},
        )
    return Response(status_code=204, headers=_headers(taken))


@router.get(
    "/photos/{sha256}",
    response_class=FileResponse,
    responses={**declared(401, 403, 404, 422), 206: {"description": "a part of the photo"}},
)
def get_photo(sha256: Sha256, parts: PartsHere, caller: Welcome) -> FileResponse:
    """Return a photo that some record this person may see names."""
    refuse_stranger(parts, caller, sha256)
    if not parts.photos.folder.has(sha256):
        raise ProblemError(404, "not-here-yet", "the photo has not arrived yet")
    path = parts.photos.folder.path_of(sha256)
    headers = {"ETag": f'"{sha256}"', "Cache-Control": "private, max-age=31536000, immutable"}
    return FileResponse(path, media_type=media_type(path), headers=headers)


def _headers(taken: Taken) -> dict[str, str]:
    whole = "?1" if taken.outcome == "whole" else "?0"
    return {"Upload-Offset": str(taken.offset), "Upload-Complete": whole}
