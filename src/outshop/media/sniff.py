"""Tell a file's kind by its first bytes, never by its name."""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from outshop.errors import MediaError

Kind = Literal["sound", "video", "picture", "document"]

_HEAD_BYTES = 4096
_HEIF_BRANDS = {b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif"}
_MOV_BOXES = {b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot"}


@dataclass(frozen=True, slots=True)
class Sniffed:
    """What the first bytes say.

    Parameters
    ----------
    kind : {"sound", "video", "picture", "document"}
        What it is for; a container that can hold both counts as video unless its brand
        says sound only.
    form : str
        Name of the file format, as the decoder calls it.
    media_type : str
        For the ``Content-Type`` of a download.
    suffix : str
        Usual file name ending, with its dot.
    """

    kind: Kind
    form: str
    media_type: str
    suffix: str


_SIGNS: tuple[tuple[int, bytes, Sniffed], ...] = (
    (0, b"fLaC", Sniffed("sound", "flac", "audio/flac", ".flac")),
    (0, b"caff", Sniffed("sound", "caf", "audio/x-caf", ".caf")),
    (0, b"#!AMR", Sniffed("sound", "amr", "audio/amr", ".amr")),
    (0, b"riff\x2e\x91\xcf\x11", Sniffed("sound", "w64", "audio/x-w64", ".w64")),
    (0, b".snd", Sniffed("sound", "au", "audio/basic", ".au")),
    (0, b"\x1a\x45\xdf\xa3", Sniffed("video", "matroska", "video/x-matroska", ".mkv")),
    (0, b"\x00\x00\x01\xba", Sniffed("video", "mpeg", "video/mpeg", ".mpg")),
    (0, b"\x30\x26\xb2\x75\x8e\x66\xcf\x11", Sniffed("video", "asf", "video/x-ms-asf", ".wmv")),
    (0, b"\xff\xd8\xff", Sniffed("picture", "JPEG", "image/jpeg", ".jpg")),
    (0, b"\x89PNG\r\n\x1a\n", Sniffed("picture", "PNG", "image/png", ".png")),
    (0, b"GIF8", Sniffed("picture", "GIF", "image/gif", ".gif")),
    (0, b"II*\x00", Sniffed("picture", "TIFF", "image/tiff", ".tif")),
    (0, b"MM\x00*", Sniffed("picture", "TIFF", "image/tiff", ".tif")),
    (0, b"%PDF-", Sniffed("document", "PDF", "application/pdf", ".pdf")),
)
_RIFF = {
    b"WAVE": Sniffed("sound", "wav", "audio/wav", ".wav"),
    b"AVI ": Sniffed("video", "avi", "video/x-msvideo", ".avi"),
    b"WEBP": Sniffed("picture", "WEBP", "image/webp", ".webp"),
}
_AIFF = Sniffed("sound", "aiff", "audio/aiff", ".aif")
_MP3 = Sniffed("sound", "mp3", "audio/mpeg", ".mp3")
_AAC = Sniffed("sound", "aac", "audio/aac", ".aac")
_OGG_SOUND = Sniffed("sound", "ogg", "audio/ogg", ".ogg")
_OGG_VIDEO = Sniffed("video", "ogg", "video/ogg", ".ogv")
_M4A = Sniffed("sound", "mov", "audio/mp4", ".m4a")
_MP4 = Sniffed("video", "mov", "video/mp4", ".mp4")
_MOV = Sniffed("video", "mov", "video/quicktime", ".mov")
_TS = Sniffed("video", "mpegts", "video/mp2t", ".ts")
_HEIC = Sniffed("picture", "HEIF", "image/heic", ".heic")
_AVIF = Sniffed("picture", "AVIF", "image/avif", ".avif")
_WEBM = b"webm"


def sniff_bytes(head: bytes) -> Sniffed | None:
    """Tell the kind from the first bytes (4096 are plenty), or None when unknown."""
    if head[:4] in {b"RIFF", b"RF64", b"BW64"}:
        return _RIFF.get(head[8:12])
    if head[:4] == b"FORM" and head[8:12] in {b"AIFF", b"AIFC"}:
        return _AIFF
    if head[:4] == b"OggS":
        return _OGG_VIDEO if b"theora" in head[:200] else _OGG_SOUND
    if head[4:8] in _MOV_BOXES:
        return _sniff_boxes(head)
    for offset, sign, answer in _SIGNS:
        if head[offset : offset + len(sign)] == sign:
            if answer.form == "matroska" and _WEBM in head[:64]:
                return Sniffed("video", "matroska", "video/webm", ".webm")
            return answer
    if len(head) > 188 and head[0] == head[188] == 0x47:
        return _TS
    return _sniff_stream(head)


def sniff(path: Path) -> Sniffed:
    """Tell the kind of a file.

    Raises
    ------
    MediaError
        The file is empty, cannot be read, or is of no kind known here.
    """
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
            if head[:3] == b"ID3" and len(head) >= 10:
                file.seek(_tag_bytes(head))
                return sniff_bytes(file.read(_HEAD_BYTES)) or _MP3
    except OSError as problem:
        message = f"{short_name(path)} cannot be read: {problem.strerror}"
        raise MediaError(message) from problem
    if not head:
        message = f"{short_name(path)} is empty (0 bytes): copy it again from the phone"
        raise MediaError(message)
    found = sniff_bytes(head)
    if found is None:
        message = f"{short_name(path)} {_what_else(head)}"
        raise MediaError(message)
    return found


def short_name(path: Path) -> str:
    """File name for a sentence, at most 60 characters, control characters shown."""
    name = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in path.name)
    return name if len(name) <= 60 else f"{name[:40]}…{name[-15:]}"


def _sniff_boxes(head: bytes) -> Sniffed:
    """Tell apart the files made of ISO/IEC 14496-12 boxes by their brands."""
    if head[4:8] != b"ftyp":
        return _MOV
    size = min(max(int.from_bytes(head[:4], "big"), 16), len(head))
    brands = {head[8:12]} | {head[i : i + 4] for i in range(16, size, 4)}
    if head[8:12] in _HEIF_BRANDS:
        return _AVIF if b"avif" in brands else _HEIC
    if head[8:12] in {b"M4A ", b"M4B "}:
        return _M4A
    return _MOV if head[8:12] == b"qt  " else _MP4


def _sniff_stream(head: bytes) -> Sniffed | None:
    """Tell raw MPEG sound by its frame sync (ISO/IEC 11172-3, 2.4.2.3; 13818-7, 6.2)."""
    if len(head) < 4 or head[0] != 0xFF:
        return None
    if head[1] & 0xF6 == 0xF0:
        return _AAC
    layer, rate, sampling = (head[1] >> 1) & 3, head[2] >> 4, (head[2] >> 2) & 3
    if head[1] & 0xE0 == 0xE0 and layer != 0 and rate not in {0, 15} and sampling != 3:
        return _MP3
    return None


def _tag_bytes(head: bytes) -> int:
    """Length of an ID3v2 tag with its header: four 7-bit bytes (ID3v2.4, 3.1)."""
    size = 0
    for byte in head[6:10]:
        size = size << 7 | byte & 0x7F
    return size + 10


def _what_else(head: bytes) -> str:
    sample = head.decode("utf-8", errors="replace")
    shown = sum(c.isprintable() or c.isspace() for c in sample if c != "\ufffd")
    if shown > 0.95 * len(sample):
        return "is plain text, whatever its name says: choose the recording itself"
    return "is no sound, clip or picture of a kind known here: save it as wav, m4a, mp4 or jpg"
