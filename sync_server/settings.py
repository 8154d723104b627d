"""What the server is told once, when it starts; every default is the cautious one."""

from dataclasses import dataclass
from pathlib import Path

from shared_core.errors import UnreadableError

LOOPBACK = "127.0.0.1"


@dataclass(frozen=True, kw_only=True)
class Settings:
    """Where the data lies, where the server listens, and how much it takes at once."""

    data: Path
    host: str = LOOPBACK
    port: int = 8417
    body_bytes: int = 16_000_000  # one request of entries, as it comes over the line
    decompressed_bytes: int = 64_000_000  # the same unpacked: a small bomb stays small
    lines_per_request: int = 5000
    reply_bytes: int = 8_000_000  # text of entries in one answer; a walk can be long
    photo_bytes: int = 40_000_000
    photo_pixels: int = 64_000_000  # a small file can hold a picture that fills the memory
    parts: int = 500  # unfinished uploads kept; beyond it the oldest starts again
    idle_s: float = 60.0  # a sender that is silent this long is let go
    enrol_tries: int = 30  # from one address ...
    enrol_window_s: float = 600.0  # ... within this time

    def __post_init__(self) -> None:
        if not 0 <= self.port <= 65535:
            raise UnreadableError(f"a port is a number from 0 to 65535, not {self.port}")

    @property
    def on_loopback(self) -> bool:
        """Whether only this machine can reach the server."""
        return self.host in (LOOPBACK, "::1", "localhost")
