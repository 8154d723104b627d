"""A photo through the tablet's camera app, without a file provider. Not run on a device yet.

Android refuses file addresses between apps since API 24, so the camera fills a slot of the media
store; its bytes go into the photo folder and the slot is deleted. API 29 needs no permission for it.
The system may end this app while the camera is open: the draft is on disk before it is called.
"""

import os
from collections.abc import Callable
from typing import Any, Final

from android import activity, mActivity
from jnius import autoclass

from shared_core.photo_folder import PhotoFolder

REQUEST: Final = 0x571
RESULT_OK: Final = -1  # android.app.Activity


class Shot:
    """One photo: asked for, taken or not."""

    def __init__(self, photos: PhotoFolder, done: Callable[[str | None], None]) -> None:
        """Take where it is kept, and what to call on the screen's thread with its fingerprint."""
        self._photos = photos
        self._done = done
        self._slot: Any = None

    def take(self, name: str) -> None:
        """Open the camera app."""
        values = autoclass("android.content.ContentValues")()
        values.put("_display_name", name)
        values.put("mime_type", "image/jpeg")
        images = autoclass("android.provider.MediaStore$Images$Media").EXTERNAL_CONTENT_URI
        self._slot = mActivity.getContentResolver().insert(images, values)
        intents = autoclass("android.content.Intent")
        store = autoclass("android.provider.MediaStore")
        intent = intents(store.ACTION_IMAGE_CAPTURE)
        intent.putExtra(store.EXTRA_OUTPUT, self._slot)
        intent.addFlags(
            intents.FLAG_GRANT_WRITE_URI_PERMISSION | intents.FLAG_GRANT_READ_URI_PERMISSION
        )
        activity.bind(on_activity_result=self._result)
        mActivity.startActivityForResult(intent, REQUEST)

    def _result(self, request: int, result: int, intent: Any) -> None:  # noqa: ANN401
        del intent  # the picture is in the slot
        if request != REQUEST:
            return
        activity.unbind(on_activity_result=self._result)
        resolver = mActivity.getContentResolver()
        fingerprint = None
        if result == RESULT_OK:
            opened = resolver.openFileDescriptor(self._slot, "r")
            with os.fdopen(opened.detachFd(), "rb") as file:
                fingerprint = self._photos.put(file.read())
        resolver.delete(self._slot, None, None)
        self._done(fingerprint)
