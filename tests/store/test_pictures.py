"""A photo is kept as it is, without where and when it was taken.

Held against Pillow, which makes the pictures, writes the Exif and decodes what comes back.
"""

import contextlib
import io
import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageOps

from halfsplit.errors import StoreError
from halfsplit.store import pictures
from halfsplit.store.pictures import clean_picture

GPS, ORIENTATION, TAKEN_AT, MAKER = 0x8825, 0x0112, 0x0132, 0x010F
SECRET = b"N 51 28 40"
XMP = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><place>N 51 28 40</place></x:xmpmeta>'
FORMATS = ("JPEG", "PNG", "WEBP")


def picture(form, *, turned=1, has_place=True, **options):
    image = Image.linear_gradient("L").resize((48, 32)).convert("RGB")
    image.paste((200, 20, 20), (0, 0, 12, 8))
    exif = Image.Exif()
    exif[ORIENTATION] = turned
    if has_place:
        exif[TAKEN_AT], exif[MAKER] = "2030:06:14 12:00:00", "a maker"
        exif.get_ifd(GPS).update({1: "N", 2: (51.0, 28.0, 40.0), 29: SECRET.decode()})
    packed = io.BytesIO()
    image.save(packed, form, exif=exif, **options)
    return packed.getvalue()


def decoded(content):
    image = Image.open(io.BytesIO(content))
    image.load()
    return image


def as_shown(content):
    return ImageOps.exif_transpose(decoded(content)).tobytes()


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("turned", range(1, 9))
def test_where_and_when_are_gone_and_the_picture_is_as_it_was(form, turned):
    before = picture(form, turned=turned)
    assert SECRET in before
    after = clean_picture(before)
    assert SECRET not in after.content
    exif = decoded(after.content).getexif()
    assert set(exif) <= {ORIENTATION}
    assert exif.get(ORIENTATION, 1) == turned
    assert as_shown(after.content) == as_shown(before)
    assert decoded(after.content).tobytes() == decoded(before).tobytes()
    assert "Exif" in after.removed
    assert after.kind == form.lower()


@pytest.mark.parametrize(
    ("form", "options"),
    [
        ("JPEG", {"progressive": True, "xmp": XMP}),
        ("JPEG", {"restart_marker_blocks": 2, "comment": SECRET}),
        ("WEBP", {"xmp": XMP, "lossless": True}),
        ("WEBP", {"xmp": XMP, "quality": 40}),
    ],
)
def test_other_notes_are_gone_too(form, options):
    before = picture(form, **options)
    after = clean_picture(before)
    assert SECRET in before
    assert SECRET not in after.content
    assert decoded(after.content).tobytes() == decoded(before).tobytes()


def test_text_in_a_png_is_gone():
    body = b"tEXtplace\0" + SECRET
    note = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    before = picture("PNG", has_place=False)
    with_note = before[:33] + note + before[33:]
    after = clean_picture(with_note)
    assert SECRET not in after.content
    assert "tEXt" in after.removed
    assert decoded(after.content).tobytes() == decoded(before).tobytes()


@pytest.mark.parametrize("form", FORMATS)
def test_what_hangs_behind_the_picture_is_gone(form):
    after = clean_picture(picture(form, has_place=False) + picture("JPEG"))
    assert SECRET not in after.content
    assert "data after the picture" in after.removed


@pytest.mark.parametrize("form", FORMATS)
def test_colours_stay_what_they_were(form):
    from PIL import ImageCms  # noqa: PLC0415  only here

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    after = clean_picture(picture(form, icc_profile=profile))
    assert decoded(after.content).info["icc_profile"] == profile


def test_bytes_that_fill_between_segments_are_passed_over():
    plain = picture("JPEG", has_place=False)
    filled = plain[:2] + b"\xff\xff" + plain[2:]
    assert decoded(filled).tobytes() == decoded(plain).tobytes()
    assert clean_picture(filled).content == clean_picture(plain).content


def with_exif(exif):
    """A JPEG with these bytes as its Exif."""
    body = b"Exif\0\0" + exif
    plain = picture("JPEG", has_place=False)
    return plain[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + plain[2:]


@pytest.mark.parametrize(
    "exif",
    [
        b"",
        b"MM\0*",
        b"XX\0*" + bytes(40),
        b"MM\0*\xff\xff\xff\xff",
        b"II*\0\x08\0\0\0\xff\xff\x12\x01",
        b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x63\0\0\0",
    ],
)
def test_an_exif_that_makes_no_sense_turns_nothing(exif):
    after = clean_picture(with_exif(exif))
    assert after.content == clean_picture(picture("JPEG", has_place=False)).content
    assert after.removed == ("Exif",)


@pytest.mark.parametrize("form", FORMATS)
def test_cleaning_a_second_time_changes_nothing(form):
    once = clean_picture(picture(form, turned=6))
    twice = clean_picture(once.content)
    assert twice.content == once.content


def gif():
    packed = io.BytesIO()
    Image.new("L", (2, 2)).save(packed, "GIF")
    return packed.getvalue()


@pytest.mark.parametrize("content", [b"", b"hello", b"<svg onload=x>", b"%PDF-1.7", gif()])
def test_what_is_no_picture_by_its_bytes_is_refused(content):
    with pytest.raises(StoreError, match="HS722"):
        clean_picture(content)


@pytest.mark.parametrize("form", FORMATS)
def test_a_picture_that_is_cut_short_is_refused(form):
    content = picture(form)
    for share in (0.1, 0.3, 0.6, 0.9, 0.99):
        with pytest.raises(StoreError, match="HS722"):
            clean_picture(content[: int(len(content) * share)])


def test_a_picture_that_is_too_large_is_refused():
    with pytest.raises(StoreError, match="HS721"):
        clean_picture(b"\xff\xd8\xff" + bytes(pictures.MOST_BYTES))


@given(st.sampled_from(FORMATS), st.data())
def test_a_damaged_picture_is_taken_or_refused_and_never_crashes(form, data):
    content = bytearray(picture(form))
    for _ in range(data.draw(st.integers(1, 5))):
        content[data.draw(st.integers(12, len(content) - 1))] = data.draw(st.integers(0, 255))
    with contextlib.suppress(StoreError):
        assert clean_picture(bytes(content)).kind == form.lower()
