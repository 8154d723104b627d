"""A foreground service that goes on recording a walk with the screen off. Not run on a device yet.

It is a process of its own and never opens the logbook: two processes that write one WAL file can
lose committed rows before SQLite 3.51.3. Each fix is one line of a text file, on disk before the
next is taken; the app reads that file while the walk's screen is open and takes it in at the end.
"""

import json
import os
import queue
from pathlib import Path

from android_gnss import AndroidGnss
from jnius import autoclass

from shared_core.track import Fix


def main() -> None:
    """Record until the app stops the service."""
    asked = json.loads(os.environ.get("PYTHON_SERVICE_ARGUMENT", "{}"))
    service = autoclass("org.kivy.android.PythonService").mService
    lock = service.getSystemService("power").newWakeLock(1, "strandline:walk")  # partial wake lock
    lock.acquire()
    fixes: queue.Queue[Fix] = queue.Queue()
    AndroidGnss(service, fixes.put, lambda _: None).start()
    with Path(asked["file"]).open("a", encoding="utf-8") as file:
        while True:
            fix = fixes.get()
            row = [fix.time.isoformat(), fix.lat, fix.lon, fix.accuracy_m, fix.speed_m_s]
            file.write(json.dumps(row) + "\n")
            file.flush()
            os.fsync(file.fileno())


if __name__ == "__main__":
    main()
