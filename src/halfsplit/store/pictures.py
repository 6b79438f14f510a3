"""Pictures by their bytes: what kind they are, and what a camera wrote into them beside the picture taken out.

Nothing is decoded and made anew: the picture itself stays as it was, bit for bit.  Only what is needed to show it
is kept; where and when it was taken, by which device, comments and hidden further pictures go.  How the picture is
to be turned is kept.  After ITU-T T.81 annex B (JPEG), the PNG specification (ISO/IEC 15948), RFC 9649 (WebP) and,
for the turning, Exif (CIPA DC-008).
"""

import struct
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from halfsplit.errors import Mistake, StoreError

MOST_BYTES = 20_000_000
"""The largest picture taken; a telephone's is 2 to 12 MB."""


@dataclass(frozen=True)
class Picture:
    """A picture that may be kept.

    Args:
        kind: "jpeg", "png" or "webp".
        content: its bytes.
        removed: what was taken out of it, each once, as its format names it.
    """

    kind: str
    content: bytes
    removed: tuple[str, ...]


class _NotWholeError(Exception):
    """The bytes are not a whole picture of their kind."""


def clean_picture(content: bytes, place: str = "photo") -> Picture:
    """Return a picture with nothing in it but the picture.

    Args:
        content: the bytes of a file.
        place: what to call it in a mistake.

    Raises:
        StoreError: HS721 it is too large; HS722 it is no JPEG, PNG or WebP, or not a whole one.
    """
    if len(content) > MOST_BYTES:
        so, should = f"it has {len(content):,} bytes", f"a picture has {MOST_BYTES:,} at most"
        raise StoreError([Mistake(place, "HS721", so, should, "Send a smaller picture")])
    for kind, (is_kind, clean) in _KINDS.items():
        if is_kind(content):
            try:
                cleaned, removed = clean(content)
            except (_NotWholeError, struct.error, IndexError) as error:
                so = f"it begins as {kind.upper()}, and is not a whole one"
                raise StoreError([Mistake(place, "HS722", so, _SHOULD, "Send it again")]) from error
            return Picture(kind, cleaned, tuple(dict.fromkeys(removed)))
    raise StoreError([Mistake(place, "HS722", "it is no picture of a kind that is taken", _SHOULD, "Save it as JPEG")])


_SHOULD = "a picture is JPEG, PNG or WebP by its bytes"

_APP0, _APP1, _APP2, _APP14 = 0xE0, 0xE1, 0xE2, 0xEE
_SOS, _EOI, _COM = 0xDA, 0xD9, 0xFE
_NEEDED_APP = {_APP0: b"JFIF\0", _APP2: b"ICC_PROFILE\0", _APP14: b"Adobe"}
"""Application segments that change how a JPEG is shown -> how they begin."""

_NEEDED_PNG = {b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"cICP", b"sBIT", b"bKGD", b"pHYs"}
"""Chunks of a PNG that change how it is shown, beside the critical ones."""

_NEEDED_WEBP = {b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ANIM", b"ANMF", b"ICCP"}
_HAS_EXIF, _HAS_XMP = 0x08, 0x04
"""Bits of a WebP's first byte of flags."""


def _clean_jpeg(content: bytes) -> tuple[bytes, list[str]]:
    kept, removed, turned, at = [content[:2]], [], 1, 2
    while True:
        if content[at] != 0xFF:
            raise _NotWholeError
        marker = content[at + 1]
        if marker == 0xFF:  # fill
            at += 1
            continue
        if marker == _EOI:
            removed += ["data after the picture"] if at + 2 < len(content) else []
            break
        end = at + 2 + struct.unpack_from(">H", content, at + 2)[0]
        segment, body = content[at:end], content[at + 4 : end]
        if len(segment) != end - at or end < at + 4:
            raise _NotWholeError
        if marker == _APP1 and body.startswith(b"Exif\0"):
            turned = _how_turned(body[6:])
        if marker == _COM or (_APP0 <= marker <= 0xEF and not body.startswith(_NEEDED_APP.get(marker, b"\0none"))):
            removed.append(
                "Exif" if body.startswith(b"Exif\0") else "comment" if marker == _COM else f"APP{marker & 15}"
            )
        else:
            kept.append(segment)
        at = end
        if marker == _SOS:
            at = _end_of_scan(content, end)
            kept.append(content[end:at])
    note = b"Exif\0\0" + _turned(turned)
    if turned != 1:
        kept.insert(1, struct.pack(">BBH", 0xFF, _APP1, len(note) + 2) + note)
    return b"".join([*kept, b"\xff\xd9"]), removed


def _end_of_scan(content: bytes, at: int) -> int:
    """Return where the next marker stands that is neither a stuffed 0xFF nor a restart."""
    while True:
        at = content.find(b"\xff", at)
        if at < 0:
            raise _NotWholeError
        after = content[at + 1]
        if after not in (0x00, 0xFF) and not 0xD0 <= after <= 0xD7:
            return at
        at += 1 if after == 0xFF else 2


def _clean_png(content: bytes) -> tuple[bytes, list[str]]:
    kept, removed, turned, at, name = [content[:8]], [], 1, 8, b""
    while name != b"IEND":
        size, name = struct.unpack_from(">I4s", content, at)
        body = content[at + 8 : at + 8 + size]
        if struct.unpack_from(">I", content, at + 8 + size)[0] != zlib.crc32(name + body):
            raise _NotWholeError
        if name == b"eXIf":
            turned = _how_turned(body)
        if name[0] & 0x20 and name not in _NEEDED_PNG:
            removed.append("Exif" if name == b"eXIf" else name.decode("latin-1"))
        else:
            kept.append(content[at : at + 12 + size])
        at += 12 + size
    removed += ["data after the picture"] if at < len(content) else []
    if turned != 1:
        note = b"eXIf" + _turned(turned)
        kept.insert(2, struct.pack(">I", len(note) - 4) + note + struct.pack(">I", zlib.crc32(note)))
    return b"".join(kept), removed


def _clean_webp(content: bytes) -> tuple[bytes, list[str]]:
    end = 8 + struct.unpack_from("<I", content, 4)[0]
    if end > len(content) or end < 20:
        raise _NotWholeError
    kept: list[tuple[bytes, bytes]] = []
    removed, turned, at = [], 1, 12
    while at < end:
        name, size = struct.unpack_from("<4sI", content, at)
        body = content[at + 8 : at + 8 + size]
        if len(body) != size or at + 8 + size > end:
            raise _NotWholeError
        if name == b"EXIF":
            turned = _how_turned(body.removeprefix(b"Exif\0\0"))
        if name in _NEEDED_WEBP:
            kept.append((name, body))
        else:
            removed.append("Exif" if name == b"EXIF" else name.decode("latin-1").strip())
        at += 8 + size + size % 2
    removed += ["data after the picture"] if end < len(content) else []
    if turned != 1:
        kept.append((b"EXIF", _turned(turned)))
    if kept[0][0] == b"VP8X":
        flags = kept[0][1][0] & ~(_HAS_EXIF | _HAS_XMP) | (_HAS_EXIF if turned != 1 else 0)
        kept[0] = (b"VP8X", bytes([flags]) + kept[0][1][1:])
    chunks = b"".join(struct.pack("<4sI", name, len(body)) + body + b"\0" * (len(body) % 2) for name, body in kept)
    return b"RIFF" + struct.pack("<I", len(chunks) + 4) + b"WEBP" + chunks, removed


_TURN_TAG, _SHORT = 0x0112, 3


def _how_turned(exif: bytes) -> int:
    """Return how a picture is to be turned by its Exif, 1 to 8; 1, not at all, where it does not say."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(exif[:4])
    if order is None:
        return 1
    try:
        at = struct.unpack_from(f"{order}I", exif, 4)[0]
        for n in range(struct.unpack_from(f"{order}H", exif, at)[0]):
            tag, kind, count, value = struct.unpack_from(f"{order}HHIH", exif, at + 2 + 12 * n)
            if (tag, kind, count) == (_TURN_TAG, _SHORT, 1):
                return value if 1 <= value <= 8 else 1
    except struct.error:
        pass  # an Exif that is cut short says nothing
    return 1


def _turned(turned: int) -> bytes:
    """Return an Exif that says how to turn a picture, and nothing else."""
    return b"MM\0*" + struct.pack(">IHHHIHHI", 8, 1, _TURN_TAG, _SHORT, 1, turned, 0, 0)


_Cleaner = Callable[[bytes], tuple[bytes, list[str]]]
_KINDS: Mapping[str, tuple[Callable[[bytes], bool], _Cleaner]] = MappingProxyType(
    {
        "jpeg": (lambda content: content.startswith(b"\xff\xd8\xff"), _clean_jpeg),
        "png": (lambda content: content.startswith(b"\x89PNG\r\n\x1a\n"), _clean_png),
        "webp": (lambda content: content[:4] == b"RIFF" and content[8:12] == b"WEBP", _clean_webp),
    }
)
