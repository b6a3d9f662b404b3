"""Pictures are drawn anew: nothing but pixels is kept, and nothing large is decoded."""

from __future__ import annotations

import io
import tracemalloc
import zlib

import pytest
from PIL import Image, ImageFile

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, DevicePhoto
from measurements.selectors.upkeep import photos as photos_selectors
from measurements.services.upkeep import photo_redrawing
from measurements.services.upkeep import photos as photos_services
from tests import factories
from tests.photo_samples import CANARY, picture, png_that_claims, png_with_text, with_everything


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


class TestDrawingAnew:
    def test_nothing_but_pixels_is_left(self):
        """The sample does carry a place and the mark, or this test would be blind."""
        sent = with_everything()
        assert CANARY.encode() in sent and opened(sent).getexif().get_ifd(0x8825)
        drawn = photo_redrawing.redraw_photo(sent)
        for made in (drawn.content, drawn.small):
            assert CANARY.encode() not in made and b"Exif" not in made and b"2026:05:04" not in made
            image = opened(made)
            assert not image.getexif() and "icc_profile" not in image.info and "comment" not in image.info

    def test_only_the_segments_that_a_picture_needs(self):
        """JPEG markers (ITU-T T.81, table B.1): APP0 names the format, no APP1 (EXIF, XMP) and no comment."""
        data = photo_redrawing.redraw_photo(with_everything()).content
        head = data[: data.index(b"\xff\xda")]
        assert head.startswith(b"\xff\xd8\xff\xe0")
        for marker in (*range(0xE1, 0xF0), 0xFE):
            assert bytes([0xFF, marker]) not in head

    def test_text_of_a_png_is_gone(self):
        assert CANARY.encode() in png_with_text()
        assert CANARY.encode() not in photo_redrawing.redraw_photo(png_with_text()).content

    @pytest.mark.parametrize(
        ("orientation", "size", "top_left"),
        [(1, (80, 40), "red"), (3, (80, 40), "blue"), (6, (40, 80), "red"), (8, (40, 80), "blue")],
    )
    def test_upright_as_the_camera_meant_it(self, orientation, size, top_left):
        """EXIF 2.32, tag Orientation: 3 half a turn, 6 and 8 a quarter turn; left is red, right is blue."""
        image = opened(photo_redrawing.redraw_photo(with_everything(orientation)).content)
        red, _, blue = image.getpixel((8, 8))
        assert image.size == size and (red > blue) == (top_left == "red")

    @pytest.mark.parametrize(
        ("form", "mode"), [("JPEG", "RGB"), ("JPEG", "L"), ("PNG", "RGBA"), ("PNG", "L"), ("WEBP", "RGB")]
    )
    def test_the_forms_that_are_taken(self, form, mode):
        drawn = photo_redrawing.redraw_photo(picture(form, mode=mode))
        assert opened(drawn.content).format == "JPEG" and (drawn.width_px, drawn.height_px) == (80, 40)

    def test_what_is_transparent_lies_on_white(self):
        clear = io.BytesIO()
        Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(clear, "PNG")
        assert min(opened(photo_redrawing.redraw_photo(clear.getvalue()).content).getpixel((5, 5))) > 250

    def test_large_ones_are_made_smaller(self):
        drawn = photo_redrawing.redraw_photo(picture(size=(3000, 1500)))
        assert (drawn.width_px, drawn.height_px) == (2000, 1000)
        assert max(opened(drawn.small).size) == 480


class TestRefusals:
    @pytest.mark.parametrize("side", [8_000, 40_000, 2_000_000])
    def test_a_bomb_is_refused_by_what_it_claims(self, side):
        with pytest.raises(BenchnightError) as caught:
            photo_redrawing.redraw_photo(png_that_claims(side, side))
        assert caught.value.code == "photo.too_many_pixels"

    def test_a_bomb_is_refused_before_a_pixel_is_decoded(self, monkeypatch):
        def never(*_given):
            raise AssertionError("decoded")

        monkeypatch.setattr(Image.Image, "load", never)
        with pytest.raises(BenchnightError):
            photo_redrawing.redraw_photo(png_that_claims(40_000, 40_000))

    @pytest.mark.parametrize("form", ["GIF", "BMP", "TIFF", "ICO", "PPM"])
    def test_other_forms(self, form):
        with pytest.raises(BenchnightError) as caught:
            photo_redrawing.redraw_photo(picture(form, size=(16, 16)))
        assert caught.value.code == "photo.format"

    @pytest.mark.parametrize(
        "data",
        [b"", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"<html>", b"%PDF-1.4", b"\x89PNG\r\n\x1a\n"],
    )
    def test_what_is_no_picture(self, data):
        with pytest.raises(BenchnightError) as caught:
            photo_redrawing.redraw_photo(data)
        assert caught.value.code in ("photo.format", "photo.unreadable")

    @pytest.mark.parametrize("size", [(65_000, 1), (1, 65_000), (30_000, 3)])
    def test_a_line_of_pixels(self, size):
        out = io.BytesIO()
        Image.new("RGB", size, "red").save(out, "JPEG")
        drawn = photo_redrawing.redraw_photo(out.getvalue())
        assert max(drawn.width_px, drawn.height_px) == photo_redrawing.FULL_PX
        assert min(drawn.width_px, drawn.height_px) >= 1

    @pytest.mark.parametrize(
        "beside",
        [
            lambda jpeg: jpeg + b"PK\x03\x04<script>alert(1)</script>",
            lambda jpeg: jpeg[:2] + b"\xff\xfe\x00\x1b<script>alert(1)</script>" + jpeg[2:],
            lambda jpeg: jpeg[:2] + b"\xff\xe2\x00\x10MPF\x00" + b"\xff" * 9 + jpeg[2:],
        ],
        ids=["an archive behind it", "a page in its comment", "a broken head of several pictures"],
    )
    def test_what_is_a_picture_and_something_else(self, beside):
        out = io.BytesIO()
        Image.new("RGB", (50, 40), "red").save(out, "JPEG")
        drawn = photo_redrawing.redraw_photo(beside(out.getvalue()))
        for content in (drawn.content, drawn.small):
            assert not any(planted in content for planted in (b"<script", b"PK\x03\x04", b"MPF"))

    @pytest.mark.parametrize("chunk", [b"zTXt", b"iCCP"])
    def test_a_text_that_unpacks_without_end(self, chunk):
        """A chunk of a PNG of 200 kB that unpacks to 200 MB is refused before it is unpacked."""
        out = io.BytesIO()
        Image.new("RGB", (5, 5)).save(out, "PNG")
        png, packed = out.getvalue(), b"k\0\0" + zlib.compress(b"\0" * 200_000_000)
        head = len(packed).to_bytes(4, "big") + chunk + packed
        head += zlib.crc32(chunk + packed).to_bytes(4, "big")
        tracemalloc.start()
        with pytest.raises(BenchnightError) as caught:
            photo_redrawing.redraw_photo(png[:33] + head + png[33:])  # behind the first chunk
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert caught.value.code == "photo.unreadable" and peak < 20_000_000

    @pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
    def test_a_picture_that_was_cut_short(self, form):
        whole = picture(form, size=(200, 200))
        with pytest.raises(BenchnightError) as caught:
            photo_redrawing.redraw_photo(whole[: len(whole) // 2])
        assert caught.value.code in ("photo.unreadable", "photo.format")

    def test_a_large_file(self):
        with pytest.raises(BenchnightError) as caught:
            photo_redrawing.redraw_photo(picture() + b"\0" * photo_redrawing.MOST_BYTES)
        assert caught.value.code == "photo.too_large"


class TestKeeping:
    @pytest.fixture
    def device(self, member):
        return factories.device(member)

    def test_kept_shown_and_deleted(self, member, device):
        stored = photos_services.add_photo(
            by=member, device=device, data=with_everything(), caption=" the  lid "
        )
        (row,) = photos_selectors.list_photos(member, device)
        assert (row.key, row.caption, row.width_px) == (stored.key, "the lid", 80)
        small, media_type = photos_selectors.get_photo_content(member, stored.key, "small")
        assert media_type == "image/jpeg" and opened(small).size == (80, 40)
        assert photos_services.delete_photo(by=member, photo=stored.key) == device
        assert photos_selectors.list_photos(member, device) == ()
        assert AuditEntry.objects.filter(subject=stored.key).count() == 2

    def test_the_same_file_again_is_one(self, member, device):
        first = photos_services.add_photo(by=member, device=device, data=picture())
        again = photos_services.add_photo(by=member, device=device, data=picture(), caption="again")
        assert (again.key, again.created) == (first.key, False) and DevicePhoto.objects.count() == 1

    def test_no_more_than_fit(self, member, device, monkeypatch):
        monkeypatch.setattr(photos_services, "MOST_OF_DEVICE", 1)
        photos_services.add_photo(by=member, device=device, data=picture())
        with pytest.raises(BenchnightError) as caught:
            photos_services.add_photo(by=member, device=device, data=picture("PNG"))
        assert caught.value.code == "photo.too_many"

    def test_pictures_count_against_the_quota(self, member, device, settings):
        settings.BENCHNIGHT_MEMBER_BYTES = 100
        with pytest.raises(BenchnightError) as caught:
            photos_services.add_photo(by=member, device=device, data=picture())
        assert caught.value.code == "upload.quota"

    def test_a_caption_can_be_changed(self, member, device):
        key = photos_services.add_photo(by=member, device=device, data=picture()).key
        photos_services.change_caption(by=member, photo=key, caption="other side")
        assert photos_selectors.get_photo(member, key).caption == "other side"
        with pytest.raises(BenchnightError) as caught:
            photos_services.change_caption(by=member, photo=key, caption="x" * 201)
        assert caught.value.code == "photo.caption"

    def test_strangers_find_nothing(self, member, device):
        key = photos_services.add_photo(by=member, device=device, data=picture()).key
        other = factories.member("Nils")
        tries = [
            lambda: photos_services.add_photo(by=other, device=device, data=picture("PNG")),
            lambda: photos_services.change_caption(by=other, photo=key, caption="mine"),
            lambda: photos_services.delete_photo(by=other, photo=key),
            lambda: photos_selectors.get_photo_content(other, key, "full"),
            lambda: photos_selectors.list_photos(other, device),
        ]
        for each in tries:
            with pytest.raises(BenchnightError) as caught:
                each()
            assert caught.value.kind == "not_found"
        assert DevicePhoto.objects.count() == 1


def test_a_large_jpeg_is_decoded_at_less_than_its_size(monkeypatch):
    """48 million pixels, as a phone of today takes them; a quarter of them are ever decoded."""
    decoded = []
    monkeypatch.setattr(
        "PIL.ImageFile.ImageFile.load", lambda image: decoded.append(image.size) or _load(image)
    )
    drawn = photo_redrawing.redraw_photo(picture(size=(8000, 6000), mode="L"))
    assert (drawn.width_px, drawn.height_px) == (2000, 1500)
    assert max(decoded) == (4000, 3000)


_load = ImageFile.ImageFile.load
