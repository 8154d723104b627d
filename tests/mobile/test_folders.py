from pathlib import Path
from typing import Any

import pytest

from mobile.device.folders import data_folder


@pytest.mark.parametrize(
    ("around", "platform", "folder"),
    [
        ({"XDG_DATA_HOME": "/data", "HOME": "/home/ada"}, "linux", "/data/strandline"),
        ({"HOME": "/home/ada"}, "linux", "/home/ada/.local/share/strandline"),
        ({"ANDROID_PRIVATE": "/app", "HOME": "/home/ada"}, "linux", "/app/strandline"),
        ({"LOCALAPPDATA": "/local", "HOME": "/home/ada"}, "win32", "/local/strandline"),
    ],
)
def test_records_live_where_the_system_keeps_data(around: Any, platform: Any, folder: Any) -> None:
    assert data_folder(around, platform) == Path(folder)
