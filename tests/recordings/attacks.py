"""Zip archives made to do harm, written byte by byte after APPNOTE.TXT, sections 4.3.7, 4.3.12 and 4.3.16."""

import gzip
import io
import stat
import struct
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace

GOOD = b"Time (s),EGT1 (degF),EGT2 (degF)\n" + b"".join(b"%d,1400,1410\n" % second for second in range(50))


@dataclass(frozen=True)
class Entry:
    """One member, and what its two headers claim."""

    name: bytes = b"flight.csv"
    data: bytes = GOOD
    method: int = 8
    flags: int = 0
    local_flags: int | None = None
    crc: int | None = None
    size: int | None = None
    packed_size: int | None = None
    attributes: int = 0
    offset: int | None = None
    local_name: bytes | None = None
    packed: bytes | None = None

    @property
    def body(self) -> bytes:
        """The packed bytes."""
        if self.packed is not None:
            return self.packed
        if self.method == 0:
            return self.data
        packer = zlib.compressobj(9, zlib.DEFLATED, -15)
        return packer.compress(self.data) + packer.flush()


def archive(entries: list[Entry], *, count: int | None = None, directory: int | None = None) -> bytes:
    """An archive of these entries; ``count`` and ``directory`` are what its last record claims."""
    body = bytearray()
    central = bytearray()
    for entry in entries:
        packed = entry.body
        crc = zlib.crc32(entry.data) if entry.crc is None else entry.crc
        size = len(entry.data) if entry.size is None else entry.size
        packed_size = len(packed) if entry.packed_size is None else entry.packed_size
        offset = len(body) if entry.offset is None else entry.offset
        local_name = entry.name if entry.local_name is None else entry.local_name
        local_flags = entry.flags if entry.local_flags is None else entry.local_flags
        body += struct.pack(
            "<4s5H3L2H",
            b"PK\x03\x04",
            20,
            local_flags,
            entry.method,
            0,
            33,
            crc,
            packed_size,
            size,
            len(local_name),
            0,
        )
        body += local_name + packed
        central += struct.pack(
            "<4s6H3L5H2L", b"PK\x01\x02", 0x0314, 20, entry.flags, entry.method, 0, 33, crc, packed_size, size,
            len(entry.name), 0, 0, 0, 0, entry.attributes, offset,
        )  # fmt: skip
        central += entry.name
    total = len(entries) if count is None else count
    place = len(body) if directory is None else directory
    return bytes(body + central) + struct.pack(
        "<4s4H2LH", b"PK\x05\x06", 0, 0, total, total, len(central), place, 0
    )


def nested(depth: int) -> bytes:
    """A zip in a zip."""
    data = archive([Entry()])
    for _ in range(depth):
        data = archive([Entry(b"inner.zip", data, method=0)])
    return data


def quoted_overlap(members: int = 200) -> bytes:
    """Members that each quote the headers of all later ones as their own data, sharing one kernel."""
    kernel = Entry(b"k", b"0" * 4_000_000)
    tail = b""
    entries: list[tuple[bytes, int, int, int]] = []
    packed = kernel.body
    tail = local_header(b"k", 8, zlib.crc32(kernel.data), len(packed), len(kernel.data)) + packed
    whole = tail
    entries.append((b"k", 0, len(packed), len(kernel.data)))
    for number in range(members):
        name = b"m%d" % number
        header = local_header(name, 0, 0, len(whole), len(whole))
        whole = header + whole
        entries = [(n, offset + len(header), p, s) for n, offset, p, s in entries]
        entries.append((name, 0, len(whole) - len(header), len(whole) - len(header)))
    central = b"".join(
        struct.pack(
            "<4s6H3L5H2L",
            b"PK\x01\x02",
            20,
            20,
            0,
            8 if n == b"k" else 0,
            0,
            33,
            0,
            p,
            s,
            len(n),
            0,
            0,
            0,
            0,
            0,
            o,
        )
        + n
        for n, o, p, s in entries
    )
    return (
        whole
        + central
        + struct.pack(
            "<4s4H2LH", b"PK\x05\x06", 0, 0, len(entries), len(entries), len(central), len(whole), 0
        )
    )


def local_header(name: bytes, method: int, crc: int, packed: int, size: int) -> bytes:
    """The header before a member's bytes."""
    return (
        struct.pack("<4s5H3L2H", b"PK\x03\x04", 20, 0, method, 0, 33, crc, packed, size, len(name), 0) + name
    )


def standard(name: str, data: bytes, **settings: int) -> bytes:
    """An archive by the standard library."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", settings.get("method", zipfile.ZIP_DEFLATED)) as made:
        made.writestr(name, data)
    return whole.getvalue()


def zip64() -> bytes:
    """An archive of the 64-bit kind, by the standard library's own writer."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w") as made:
        for number in range(100_000):
            made.writestr(zipfile.ZipInfo(f"{number}"), b"")
    return whole.getvalue()


def spoiled(data: bytes, place: int) -> bytes:
    """One byte changed."""
    return data[:place] + bytes([data[place] ^ 0xFF]) + data[place + 1 :]


SOUND = archive([Entry()])
TWO = [Entry(b"a.csv"), Entry(b"b.csv")]
A = Entry()
OFFICE = archive([Entry(b"[Content_Types].xml"), Entry(b"xl/workbook.xml")])

ATTACKS: dict[str, Callable[[], bytes]] = {
    "high ratio": lambda: archive([replace(A, data=b"0" * 60_000_000)]),
    "high ratio, lying small": lambda: archive([replace(A, data=b"0" * 60_000_000, size=100)]),
    "larger than a member may be": lambda: archive([replace(A, data=GOOD * 120_000, method=0, size=100)]),
    "gzip bomb": lambda: gzip.compress(b"0" * 80_000_000),
    "gzip bomb of lines": lambda: gzip.compress(b"0,1\n" * 20_000_000),
    "gzip in gzip": lambda: gzip.compress(gzip.compress(GOOD)),
    "zip in gzip": lambda: gzip.compress(SOUND),
    "zip in zip": lambda: nested(1),
    "zip in zip in zip": lambda: nested(2),
    "gzip in zip": lambda: archive([Entry(b"a.gz", gzip.compress(GOOD), method=0)]),
    "the same bytes twice": lambda: archive(
        [Entry(b"a.csv"), Entry(b"b.csv", offset=0, local_name=b"a.csv")]
    ),
    "the same bytes twice, same name": lambda: archive([Entry(b"a.csv"), Entry(b"a.csv", offset=0)]),
    "overlap by a long claim": lambda: archive([Entry(b"a.csv", packed_size=400), Entry(b"b.csv")]),
    "overlap by quoting": quoted_overlap,
    "over the directory": lambda: archive([Entry(b"a.csv", packed_size=len(A.body) + 30)]),
    "60,000 members": lambda: archive([Entry(b"%d" % n, b"", method=0) for n in range(60_000)], count=60_000),
    "2,001 members": lambda: archive([Entry(b"%d" % n, b"", method=0) for n in range(2001)]),
    "2,001 members, lying count": lambda: archive(
        [Entry(b"%d" % n, b"", method=0) for n in range(2001)], count=1
    ),
    "lying count, few": lambda: archive(TWO, count=1),
    "lying count, many": lambda: archive([A], count=3),
    "parent folder": lambda: archive([replace(A, name=b"../flight.csv")]),
    "parent folder inside": lambda: archive([replace(A, name=b"a/../../flight.csv")]),
    "parent folder, backslash": lambda: archive([replace(A, name=b"..\\flight.csv")]),
    "parent folder at the end": lambda: archive([replace(A, name=b"a/..")]),
    "absolute": lambda: archive([replace(A, name=b"/etc/flight.csv")]),
    "absolute, backslash": lambda: archive([replace(A, name=b"\\flight.csv")]),
    "drive": lambda: archive([replace(A, name=b"C:flight.csv")]),
    "drive and folder": lambda: archive([replace(A, name=b"c:\\flight.csv")]),
    "network place": lambda: archive([replace(A, name=b"\\\\host\\flight.csv")]),
    "NUL in the name": lambda: archive([replace(A, name=b"flight.csv\0.png")]),
    "line end in the name": lambda: archive([replace(A, name=b"flight\n.csv")]),
    "escape in the name": lambda: archive([replace(A, name=b"\x1b[2Jflight.csv")]),
    "turned direction in the name": lambda: archive(
        [replace(A, name="flight\u202evsc".encode(), flags=0x800)]
    ),
    "zero width in the name": lambda: archive([replace(A, name="fli\u200bght.csv".encode(), flags=0x800)]),
    "name that is no UTF-8": lambda: archive([replace(A, name=b"fl\xff\xfeight.csv", flags=0x800)]),
    "link": lambda: archive([replace(A, attributes=(stat.S_IFLNK | 0o777) << 16)]),
    "device": lambda: archive([replace(A, attributes=(stat.S_IFCHR | 0o666) << 16)]),
    "block device": lambda: archive([replace(A, attributes=(stat.S_IFBLK | 0o666) << 16)]),
    "pipe": lambda: archive([replace(A, attributes=(stat.S_IFIFO | 0o666) << 16)]),
    "socket": lambda: archive([replace(A, attributes=(stat.S_IFSOCK | 0o666) << 16)]),
    "locked": lambda: archive([replace(A, flags=1)]),
    "locked in the local header only": lambda: archive([replace(A, local_flags=1)]),
    "strongly locked": lambda: archive([replace(A, flags=0x41)]),
    "masked directory": lambda: archive([replace(A, flags=0x2000)]),
    "method 9": lambda: archive([replace(A, method=9)]),
    "method 12": lambda: archive([replace(A, method=12)]),
    "method 14": lambda: archive([replace(A, method=14)]),
    "method 99": lambda: archive([replace(A, method=99)]),
    "wrong checksum": lambda: archive([replace(A, crc=1)]),
    "wrong size, small": lambda: archive([replace(A, size=10)]),
    "wrong size, large": lambda: archive([replace(A, size=100_000)]),
    "wrong packed size": lambda: archive([replace(A, packed_size=20)]),
    "other name in the local header": lambda: archive([replace(A, local_name=b"other.csv.")]),
    "offset outside": lambda: archive([replace(A, offset=1_000_000)]),
    "offset at nothing": lambda: archive([replace(A, offset=7)]),
    "64-bit kind": zip64,
    "directory elsewhere": lambda: archive([A], directory=1_000_000),
    "directory at another place": lambda: archive([A], directory=3),
    "no directory": lambda: SOUND[:80],
    "cut in the directory": lambda: SOUND[:-30],
    "damaged data": lambda: spoiled(SOUND, 60),
    "damaged directory": lambda: spoiled(SOUND, len(SOUND) - 60),
    "not deflate at all": lambda: archive([replace(A, packed=b"\xff" * 100)]),
    "endless stored text": lambda: archive([replace(A, data=b"x" * 3_000_000, method=0)]),
    "damaged gzip": lambda: spoiled(gzip.compress(GOOD), 20),
    "gzip with a wrong checksum": lambda: spoiled(gzip.compress(GOOD), len(gzip.compress(GOOD)) - 6),
    "spreadsheet": lambda: OFFICE,
    "open document": lambda: archive([Entry(b"mimetype", b"application/x", method=0), Entry(b"content.xml")]),
}
