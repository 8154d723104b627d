"""A photo of which the server has every byte but whose end was never heard of."""

import hashlib
from pathlib import Path

from demo_visits.photos import picture_of
from demo_visits.season import acts
from demo_visits.server_process import answer_of, free_port, running
from mobile.courier import HttpPeer, enrol


def test_the_real_server_ends_a_photo_that_only_lacks_its_end(tmp_path: Path) -> None:
    picture = next(found for act in acts() if (found := picture_of(act)) is not None)
    name = hashlib.sha256(picture).hexdigest()
    data = tmp_path / "server"
    data.mkdir()
    port = free_port()
    url = f"http://127.0.0.1:{port}"
    with running(data, port):
        words = ("invite", "Ada Example", "--role", "officer", "--site", "LRS", "--data", str(data))
        token = enrol(url, str(answer_of(*words)["code"]), "TAB-1")["token"]
        with HttpPeer(url, token) as peer:
            headers = {
                "Upload-Offset": "0",
                "Upload-Complete": "?0",
                "Content-Type": "application/octet-stream",
            }
            where = f"{url}/v1/photos/{name}"
            sent = peer._session.patch(where, data=picture, headers=headers, timeout=30)
            assert sent.status_code < 300
            assert peer.send_photo(name, picture) == 0
            assert peer._session.head(where, timeout=30).headers["Upload-Complete"] == "?1"
