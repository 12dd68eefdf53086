"""Photographs: in by pieces, checked, stored by their own name, in backups."""

from __future__ import annotations

import base64
import hashlib
import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from bagtrail import backup, jpeg, pieces
from bagtrail.errors import BadPhoto

SIZE = (320, 240)


def picture(seed: int = 0, exif: bool = False, **more: Any) -> bytes:
    """A JPEG with something on it, made by Pillow (the reference here)."""
    made = Image.radial_gradient("L").resize(SIZE).rotate(seed).convert("RGB")
    notes = Image.Exif()
    notes[0x0110] = "camera"
    out = io.BytesIO()
    made.save(out, "JPEG", **({"exif": notes} if exif else {}), **more)
    return out.getvalue()


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def piece(data: bytes, offset: int = 0, size: int | None = None, name: str = "") -> dict[str, Any]:
    part = data[offset : offset + size] if size is not None else data[offset:]
    return {
        "sha256": name or sha(data), "bytes": len(data), "offset": offset,
        "data": base64.b64encode(part).decode(),
    }  # fmt: skip


def send(phone: Any, body: dict[str, Any]) -> Any:
    return phone.server.http.post("/api/photos", json=body, headers=phone.headers)


def standing(phone: Any, *shas: str) -> Any:
    reply = phone.server.http.post(
        "/api/photos/standing", json={"sha256": list(shas)}, headers=phone.headers
    )
    assert reply.status_code == 200, reply.text
    return reply.json


def test_a_picture_comes_in_by_pieces_and_goes_on_where_it_was_cut(server: Any, phone: Any) -> None:
    data = picture()
    first = send(phone, piece(data, 0, 1_000)).json
    assert (first["have"], first["whole"]) == (1_000, False)
    server.restart()  # the line was cut, and the server with it
    assert send(phone, piece(data, 0, 0)).json["have"] == 1_000
    # A piece sent twice, or ahead, adds nothing.
    assert send(phone, piece(data, 0, 1_000)).json["have"] == 1_000
    assert send(phone, piece(data, 2_000, 100)).json["have"] == 1_000
    assert send(phone, piece(data, 1_000)).json["whole"] is True
    assert send(phone, piece(data)).json["whole"] is True
    got = phone.get(f"/api/photos/{sha(data)}")
    assert (got.status_code, got.mimetype, got.data) == (200, "image/jpeg", data)
    assert [f.name for f in (server.folder / "photos").glob("*") if f.is_file()] == [sha(data)]


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"GIF89a" + bytes(50), "not a JPEG"),
        (picture()[:-2], "cut off"),
        (picture()[:200], "cut off"),
        (picture() + b"<script>", "behind the end"),
        (picture(exif=True), "notes of the camera"),
        (picture(comment=b"north field"), "notes of the camera"),
        (b"\xff\xd8\xff\xd9", "no picture"),
        (picture().replace(b"\x00\xf0\x01\x40", b"\x20\x00\x01\x40", 1), "at most 4096"),
    ],
)
def test_what_is_no_plain_picture_is_refused_and_not_kept(
    server: Any, phone: Any, data: bytes, why: str
) -> None:
    reply = send(phone, piece(data))
    assert reply.status_code == 422
    assert reply.json["error"]["code"] == "bad_photo"
    assert why in reply.json["error"]["message"]
    assert phone.get(f"/api/photos/{sha(data)}").status_code == 404
    assert not list((server.folder / "photos" / ".parts").glob("*"))


def test_a_picture_damaged_on_the_way_is_told_by_its_name(phone: Any) -> None:
    data = picture()
    reply = send(phone, piece(data, name="0" * 64))
    assert reply.json["error"]["code"] == "bad_photo"
    assert "damaged on the way" in reply.json["error"]["message"]
    assert send(phone, piece(data)).json["whole"] is True


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("size", [(1, 1), (1600, 1200), (17, 900)])
def test_sizes_are_pillow_s(size: tuple[int, int], progressive: bool) -> None:
    out = io.BytesIO()
    Image.effect_noise(size, 60).convert("RGB").save(out, "JPEG", progressive=progressive)
    assert jpeg.size(out.getvalue()) == size


def test_no_cut_of_a_picture_passes() -> None:
    data = picture()
    for end in range(0, len(data), 7):
        with pytest.raises(BadPhoto):
            jpeg.size(data[:end])


@pytest.mark.parametrize("name", ["..%2Ffarm.db", "identity.json", "0" * 63, "..", "0" * 64])
def test_no_other_file_is_given_out(phone: Any, name: str) -> None:
    assert phone.get(f"/api/photos/{name}").status_code == 404


def test_only_paired_devices_send_and_see(server: Any, phone: Any) -> None:
    data = picture()
    assert server.http.post("/api/photos", json=piece(data)).status_code == 401
    send(phone, piece(data))
    assert server.http.get(f"/api/photos/{sha(data)}").status_code == 401
    assert server.http.post("/api/photos/standing", json={"sha256": []}).status_code == 401


def test_a_full_farm_refuses_pictures_and_takes_records(server: Any, phone: Any) -> None:
    data = picture()
    server.app.extensions["bagtrail.photos"].most = len(data) + 10
    assert send(phone, piece(data)).json["whole"] is True
    more = send(phone, piece(picture(90)))
    assert (more.status_code, more.json["error"]["code"]) == (413, "photos_full")
    phone.batch(3)


def test_a_full_disk_refuses_pictures(server: Any, phone: Any, monkeypatch: Any) -> None:
    usage = pieces.shutil.disk_usage(server.folder)
    monkeypatch.setattr(pieces.shutil, "disk_usage", lambda _: usage._replace(free=1 << 20))
    assert send(phone, piece(picture())).json["error"]["code"] == "photos_full"


def test_a_picture_is_safe_once_a_backup_that_counts_holds_it(
    server: Any, phone: Any, tmp_path: Path
) -> None:
    data, later = picture(), picture(45)
    send(phone, piece(data))
    assert standing(phone, sha(data), sha(later)) == {
        "k": "photos1", "missing": [sha(later)], "safe": []
    }  # fmt: skip
    made = backup.make(server.log, server.folder, tmp_path / "copies", 1_764_072_000_000)
    assert standing(phone, sha(data))["safe"] == []  # on the same disk as the database
    server.log.durable.confirm_away(made["name"])
    assert standing(phone, sha(data), sha(later))["safe"] == [sha(data)]
    # Put back without its photographs, the farm asks for them again.
    (server.folder / "photos" / sha(data)).unlink()
    assert standing(phone, sha(data)) == {"k": "photos1", "missing": [sha(data)], "safe": []}
