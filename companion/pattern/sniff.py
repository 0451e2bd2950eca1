"""Tells by its first bytes what a file is, and unpacks svgz within the size limit.

A sawyer who saved the wrong kind of file is told its kind and what to do.
"""

from __future__ import annotations

import zlib

from companion.errors import PatternError
from companion.pattern.limits import Limits
from companion.sentence import Sentence, sentence

EXPORT = "Open it in a drawing program and save it as SVG."
TRACE = "It is a picture made of dots. Trace it to outlines in a drawing program and save as SVG."

MAGIC: tuple[tuple[bytes, Sentence, str], ...] = (
    (b"\x89PNG\r\n\x1a\n", sentence("a PNG picture"), TRACE),
    (b"\xff\xd8\xff", sentence("a JPEG picture"), TRACE),
    (b"GIF87a", sentence("a GIF picture"), TRACE),
    (b"GIF89a", sentence("a GIF picture"), TRACE),
    (b"BM", sentence("a BMP picture"), TRACE),
    (b"II*\x00", sentence("a TIFF picture"), TRACE),
    (b"MM\x00*", sentence("a TIFF picture"), TRACE),
    (b"%PDF-", sentence("a PDF document"), EXPORT),
    (b"%!PS", sentence("a PostScript or EPS drawing"), EXPORT),
    (b"\xc5\xd0\xd3\xc6", sentence("an EPS drawing"), EXPORT),
    (b"AutoCAD Binary DXF", sentence("a binary DXF drawing"), EXPORT),
    (b"AC10", sentence("a DWG drawing"), EXPORT),
    (b"PK\x03\x04", sentence("a ZIP archive"), "Unpack it first, then name the SVG file inside."),
    (b"\xd7\xcd\xc6\x9a", sentence("a WMF drawing"), EXPORT),
    (b"7z\xbc\xaf", sentence("a 7z archive"), "Unpack it first, then name the SVG file inside."),
    (b"Rar!", sentence("a RAR archive"), "Unpack it first, then name the SVG file inside."),
    (b"{\\rtf", sentence("a text document"), EXPORT),
    (b"solid ", sentence("an STL model"), EXPORT),
    (b"\x7fELF", sentence("a program"), EXPORT),
    (b"MZ", sentence("a program"), EXPORT),
)
"""Leading bytes, what they mean, what to do. Sources: the formats' own
specifications (PNG 5.2, JFIF, GIF89a, TIFF 6.0, ISO 32000 7.5.2, PKWARE APPNOTE
4.3.7); DXF and DWG signatures from memory."""

UTF_32 = (b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff", b"\x00\x00\x00<", b"<\x00\x00\x00")
UTF_16 = (b"\xff\xfe", b"\xfe\xff", b"\x00<", b"<\x00")
"""How such texts begin, with a byte order mark or without (XML 1.0, appendix F)."""
GZIP = b"\x1f\x8b"


def refuse_other_formats(data: bytes, name: str) -> None:
    """Raise when the bytes are a known format that is not SVG.

    Raises:
        PatternError: naming the format and the remedy.
    """
    if not data.strip(b"\x00 \t\r\n"):
        raise PatternError(
            "the drawing is empty",
            sentence("{name} holds no bytes to read", name=name),
            "Save the drawing again.",
        )
    for lead, kind, remedy in MAGIC:
        if data.startswith(lead):
            raise PatternError(
                "the drawing is not SVG", sentence("{name} is {kind}", name=name, kind=kind), remedy
            )
    if data.startswith(b"RIFF") and data[8:12] == b"WEBP":
        raise PatternError(
            "the drawing is not SVG", sentence("{name} is a WebP picture", name=name), TRACE
        )
    if data.startswith(UTF_32):
        raise PatternError(
            "the drawing's letters cannot be read",
            sentence("{name} is written in UTF-32", name=name),
            "Save it as UTF-8.",
        )
    head = data[:400].lstrip().upper()
    if head.startswith(b"0") and b"SECTION" in head:
        raise PatternError(
            "the drawing is not SVG", sentence("{name} is a DXF drawing", name=name), EXPORT
        )
    if b"<HTML" in head and b"<SVG" not in head:
        raise PatternError(
            "the drawing is not SVG",
            sentence("{name} is a web page", name=name),
            "Save the drawing itself, not the page that shows it.",
        )
    first = data.removeprefix(b"\xef\xbb\xbf").lstrip()[:1]
    if not data.startswith((*UTF_16, GZIP)) and first != b"<":
        raise PatternError(
            "the drawing is not SVG",
            sentence("{name} does not begin with '<', as every SVG file does", name=name),
            EXPORT,
        )


def unpack(data: bytes, name: str, limits: Limits) -> bytes:
    """Undo gzip if the bytes are compressed (svgz), within the size limit.

    Raises:
        PatternError: too large before or after, or damaged.
    """
    if len(data) > limits.file_bytes:
        raise too_large(name, limits)
    if not data.startswith(GZIP):
        return data
    stream = zlib.decompressobj(wbits=31)
    try:
        plain = stream.decompress(data, limits.file_bytes + 1)
    except zlib.error as error:
        raise PatternError(
            "the compressed drawing is damaged",
            sentence("{name}: {error}", name=name, error=error),
            "Save it again as plain SVG.",
        ) from error
    if len(plain) > limits.file_bytes:
        raise too_large(name, limits)
    if not stream.eof:
        raise PatternError(
            "the compressed drawing is damaged",
            sentence("{name} ends before its packed data does", name=name),
            "Save it again as plain SVG.",
        )
    return plain


def too_large(name: str, limits: Limits) -> PatternError:
    """The refusal for a file over the size limit."""
    return PatternError(
        "the drawing is too large",
        sentence(
            "{name} holds more than {file_bytes} MiB",
            name=name,
            file_bytes=limits.file_bytes // 2**20,
        ),
        "Simplify the paths or remove pictures in a drawing program, then save again.",
    )
