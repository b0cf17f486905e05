#!/usr/bin/python3
"""Makes small inputs for every target of the fuzzers, in a folder each.

usage: seeds.py OUT BIN     BIN: the folder of the programs, which write the picture files
"""

import base64
import pathlib
import struct
import subprocess
import sys

out, programs = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])


def seed(target, name, data):
    folder = out / target
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(data if isinstance(data, bytes) else data.encode())


# ---- blocks: Exif, XMP, IPTC, profiles ----


def directory(order, entries, at, following=0):
    """A TIFF directory that stands at `at`, its longer values behind it. Entries: tag, type, count, bytes."""
    head, tail = struct.pack(order + "H", len(entries)), b""
    for tag, kind, count, value in entries:
        place = value.ljust(4, b"\0")
        if len(value) > 4:
            place = struct.pack(order + "I", at + 2 + 12 * len(entries) + 4 + len(tail))
            tail += value + b"\0" * (len(value) % 2)
        head += struct.pack(order + "HHI", tag, kind, count) + place
    return head + struct.pack(order + "I", following) + tail


def exif(order):
    def text(value):
        return 2, len(value) + 1, value.encode() + b"\0"

    def short(value):
        return 3, 1, struct.pack(order + "H", value)

    def ratio(top, under):
        return 5, 1, struct.pack(order + "II", top, under)

    def pointer(value):
        return 4, 1, struct.pack(order + "I", value)

    def main(sub, gps, thumbnail):
        return directory(order, [(271, *text("Invented")), (272, *text("Choir N")), (274, *short(6)),
                                 (282, *ratio(300, 1)), (283, *ratio(300, 1)), (296, *short(2)),
                                 (34665, *pointer(sub)), (34853, *pointer(gps))], 8, thumbnail)

    def inner(at, index):
        return directory(order, [(33434, *ratio(1, 125)), (33437, *ratio(28, 10)), (34855, *short(400)),
                                 (36867, *text("2026:05:06 07:08:09")), (37385, *short(1)), (37386, *ratio(50, 1)),
                                 (40965, *pointer(index)), (41987, *short(0)), (42033, *text("4711")),
                                 (42036, *text("50 mm"))], at)

    sub = 8 + len(main(0, 0, 0))
    gps = sub + len(inner(sub, 0))
    place = directory(order, [(1, 2, 2, b"N\0"), (2, 5, 3, struct.pack(order + "6I", 50, 1, 6, 1, 0, 1))], gps)
    index = gps + len(place)
    interop = directory(order, [(1, *text("R03"))], index)
    small = index + len(interop)
    last = directory(order, [(513, *pointer(small + 30)), (514, *pointer(4))], small)
    magic = b"II*\0" if order == "<" else b"MM\0*"
    return (magic + struct.pack(order + "I", 8) + main(sub, gps, small) + inner(sub, index) + place + interop + last
            + b"\xff\xd8\xff\xd9")


XMP = ('<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/">'
       '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about=""%s>%s'
       '</rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="w"?>')
NAME = "0123456789ABCDEF0123456789ABCDEF"
IPTC = b"\x1c\x02\x05\0\x03abc\x1c\x02\x5a\0\x05K\xc3\xb6ln"


def resources(*blocks):
    return b"".join(b"8BIM" + struct.pack(">H", number) + b"\0\0" + struct.pack(">I", len(data)) + data
                    + b"\0" * (len(data) % 2) for number, data in blocks)


def profile(colours, connection, kind, tags):
    at, table, body = 132 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for name, data in tags:
        table += name + struct.pack(">II", at + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    head = (struct.pack(">I4sI", at + len(body), b"\0\0\0\0", 0x02100000) + kind + colours + connection
            + struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28 + struct.pack(">3i", 63190, 65536, 54061))
    return head.ljust(128, b"\0") + table + body


def xyz(*v):
    return b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(65536 * x) for x in v))


def gamma(value):
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(256 * value))


def table(channels_in, channels_out):
    """lut8Type: straight tables, two points a side."""
    straight = bytes(range(256))
    corners = 2 ** channels_in * channels_out
    grid = bytes((i * 37) % 256 for i in range(corners))
    return (b"mft1\0\0\0\0" + bytes([channels_in, channels_out, 2, 0])
            + struct.pack(">9i", 65536, 0, 0, 0, 65536, 0, 0, 0, 65536)
            + straight * channels_in + grid + straight * channels_out)


WHITE = (b"wtpt", xyz(0.9642, 1, 0.8249))
NAMED = (b"desc", b"desc\0\0\0\0" + struct.pack(">I", 2) + b"x\0" + b"\0" * 78)
MATRIX = [(b"rXYZ", xyz(0.4361, 0.2225, 0.0139)), (b"gXYZ", xyz(0.3851, 0.7169, 0.0971)),
          (b"bXYZ", xyz(0.1431, 0.0606, 0.7141))]
RGB = profile(b"RGB ", b"XYZ ", b"mntr", [NAMED, WHITE, *MATRIX] + [(c, gamma(2.2)) for c in (b"rTRC", b"gTRC", b"bTRC")])
STEPS = b"curv\0\0\0\0" + struct.pack(">I17H", 17, *(min(65535, i * i * 256) for i in range(17)))
PARA = b"para\0\0\0\0" + struct.pack(">HH5i", 3, 0, 157286, 62119, 3417, 5072, 2651)
profiles = {
    "rgb": RGB,
    "curves": profile(b"RGB ", b"XYZ ", b"mntr", [NAMED, WHITE, *MATRIX, (b"rTRC", STEPS), (b"gTRC", PARA), (b"bTRC", STEPS)]),
    "grey": profile(b"GRAY", b"XYZ ", b"mntr", [NAMED, WHITE, (b"kTRC", gamma(1.8))]),
    "rgb-table": profile(b"RGB ", b"Lab ", b"prtr", [NAMED, WHITE, (b"A2B0", table(3, 3)), (b"B2A0", table(3, 3))]),
    "cmyk": profile(b"CMYK", b"Lab ", b"prtr", [NAMED, WHITE, (b"A2B0", table(4, 3)), (b"B2A0", table(3, 4))]),
}
for name, data in profiles.items():
    seed("icc", name, data)
for name, order in (("little", "<"), ("big", ">")):
    seed("exif", name, exif(order))
    seed("ifd", name, exif(order))
seed("ifd", "wide", b"II+\0\x08\0\0\0" + struct.pack("<QQ", 16, 2)
     + struct.pack("<HHQQ", 256, 3, 1, 5) + struct.pack("<HHQQ", 270, 2, 12, 64) + struct.pack("<Q", 0) + b"text of it\0\0")
noted = XMP % (f' xmlns:xmpNote="http://ns.adobe.com/xmp/note/" xmpNote:HasExtendedXMP="{NAME}"', "")
element = XMP % (' xmlns:xmpNote="http://ns.adobe.com/xmp/note/"',
                 f"<xmpNote:HasExtendedXMP>{NAME}</xmpNote:HasExtendedXMP>")
plain = XMP % (' xmlns:dc="http://purl.org/dc/elements/1.1/"', "<dc:title>T</dc:title>")
bare = XMP % ("", "<rdf:li>T</rdf:li>")
seed("xmp", "plain", plain)
for name, packet in (("noted", noted), ("element", element)):
    seed("xmp", name, packet + "\0" + bare)
seed("resources", "iptc", resources((1028, IPTC)))
seed("resources", "third", resources((1005, b"\0\1\0\0"), (1061, b"x" * 16), (1028, IPTC)))
seed("resources", "text", "\niptc\n%8d\n%s\n" % (len(resources((1028, IPTC))), resources((1028, IPTC)).hex()))

# ---- frames ----


def key(name, data):
    text = base64.b64encode(data).decode()
    lines = [f"#@ {name} {text[:60]}"] + [f"#@+ {text[i:i + 60]}" for i in range(60, len(text), 60)]
    return "\n".join(lines) + "\n"


def frame(kind, depth, keys="", width=5, height=3, maxval=65535):
    size = width * height * depth * (1 if maxval < 256 else 2)
    head = f"P7\n{keys}WIDTH {width}\nHEIGHT {height}\nDEPTH {depth}\nMAXVAL {maxval}\nTUPLTYPE {kind}\nENDHDR\n"
    return head.encode() + bytes((i * 89 + 7) % (maxval + 1 if maxval < 256 else 256) for i in range(size))


says = "#@ name north-01-aino.tif\n#@ depth %d\n#@ orientation 6\n#@ resolution 300%%20300%%20inch\n"
blocks = key("exif", exif("<")) + key("xmp", plain.encode()) + key("iptc", IPTC)
frames = {
    "rgb": frame("RGB", 3, says % 16 + key("icc", RGB) + blocks),
    "eight": frame("RGB", 3, says % 8 + key("icc", RGB) + blocks.replace("SUkq", "SUkq")),
    "grey": frame("GRAYSCALE", 1, says % 16 + key("icc", profiles["grey"])),
    "alpha": frame("RGB_ALPHA", 4, "#@ alpha associated\n#@ depth 16\n"),
    "straight": frame("GRAYSCALE_ALPHA", 2, "#@ alpha straight\n#@ depth 8\n"),
    "weight": frame("RGB_WEIGHT", 4, "#@ full 4000 3000\n#@ smoothed 3\n#@ subject a%20b\n#@ camera north\n"),
    "narrow": frame("RGB", 3, maxval=255),
    "p6": b"P6 2 2\n# x\n255\n" + bytes(range(12)),
    "p5": b"P5\n3 2\n1000\n" + bytes([1, 2] * 6),
    "p4": b"P4\n9 2\n" + bytes([170, 128, 85, 0]),
}
frames["several"] = frames["narrow"] + frames["grey"] + frames["p6"]
for name, data in frames.items():
    seed("stream", name, data)
    seed("pnm", name, data)

# ---- files ----


def encode(target, name, source, *options):
    run = subprocess.run([programs / "carn-encode", *options, "-"], input=frames[source], stdout=subprocess.PIPE,
                         stderr=subprocess.DEVNULL, check=True)
    seed(target, name, run.stdout)


for source in ("rgb", "eight", "grey", "alpha", "straight"):
    encode("png", source, source, "-t", "png")
    for pressed in ("none", "lzw", "deflate", "packbits"):
        encode("tiff", f"{source}-{pressed}", source, "-t", "tif", "-z", pressed)
for source in ("rgb", "grey"):
    encode("jpeg", source, source, "-t", "jpg")
seed("ifd", "tiff", (out / "tiff" / "rgb-none").read_bytes())
try:
    from PIL import Image  # Debian's python3-pil
except ImportError:
    Image = None
if Image is not None:  # forms that we read and do not write
    image = Image.frombytes("RGB", (16, 9), bytes(i % 256 for i in range(16 * 9 * 3)))
    for target, name, picture, form, options in (
            ("png", "palette", image.quantize(8), "PNG", {}), ("png", "bits", image.convert("1"), "PNG", {}),
            ("tiff", "palette", image.quantize(8), "TIFF", {}), ("tiff", "bits", image.convert("1"), "TIFF", {}),
            ("jpeg", "progressive", image, "JPEG", {"progressive": True}),
            ("jpeg", "halved", image, "JPEG", {"subsampling": 2}), ("jpeg", "cmyk", image.convert("CMYK"), "JPEG", {})):
        (out / target).mkdir(parents=True, exist_ok=True)
        picture.save(out / target / name, form, **options)

# ---- tables; of the names and columns of carn-tables(5) ----


def rows(*lines):
    return "".join(line.replace("|", "\t") + "\n" for line in lines)


patches = rows("frame|patch|tone|x|y|w|h|tilt|points", "north-*|cheek|middle|38%|52%|5%|4%",
               "*|card|card|39%|80%|21%|9%", "a.tif|face|all|10|20|100|200|-8|40 40 60 40 50 50 50 60 30 45 70 45")
moves = rows("kind|from|to|asked|note", "neutral|61.65 0.16 3.54|61.65 0 0|-|card",
             "turn|61.3 19.9 32.1|61.3 18.3 27.4|-|light", "turn|44.0 17.2 17.9|44.0 18.4 25.0|44.0 22.2 29.8|bound",
             "move|44.0 17.2 17.9|44.0 18.4 25.0|-|-", "knot|G 0.50|G 0.52|-|by hand")
aims = rows("aim|tone|quantity|value|tolerance|from|to|asked", "house|-|magenta/cyan|2.0|8|-|-|-",
            "house|-|yellow/magenta|1.15|8|-|-|-", "choir|-|hue|54|5|-|-|-", "choir|-|hue|58|5|-|45|-",
            "choir|light|chroma|28|5|70|-|30", "aino|middle|a|18|-|-|-|-", "aino|middle|b|22|-|-|-|20",
            "aino|middle|ciede2000|-|2|-|-|-")
readings = rows("frame|subject|camera|patch|tone|pixels|red|green|blue|X|Y|Z|L|a|b|chroma|hue|ita|cyan|magenta|yellow|"
                "black|separation|spread|clipped|flags|hue_spread|greened",
                "a.tif|aino|north|cheek|light|900|.8|.7|.6|.4|.4|.3|72|14|18|23|52|50|8|30|40|0|-|1|0|-|3|0",
                "a.tif|aino|north|cheek|middle|900|.7|.5|.4|.3|.3|.2|61|20|32|38|58|19|15|40|60|2|-|1|0|-|3|0",
                "a.tif|aino|north|cheek|shade|900|.3|.2|.2|.1|.1|.1|30|9|10|13|48|-60|40|60|70|30|-|1|0|dark,small|3|0",
                "card.tif|-|north|card|card|900|.5|.5|.5|.2|.2|.2|53|1|-2|2|300|0|40|30|30|5|-|1|0|-|-|-")
commented = b"\xef\xbb\xbf# a table\r\n\r\nframe\tpatch\r\na%09b\t%25\r\n\t1e3\r\nonly\r\n"
for target, table_text in (("patches", patches), ("curve", moves), ("aims", aims), ("readings", readings)):
    seed(target, "all", table_text)
    seed("table", target, table_text)
for kind in ("neutral", "turn", "move", "knot"):
    seed("curve", kind, "".join(line + "\n" for line in moves.splitlines() if line.startswith(("kind", kind))))
seed("table", "commented", commented)
seed("table", "commas", "frame,patch\na,b\n")

# ---- a job ----

job = rows("frame|subject|camera|card|approved", "north-01-aino.tif|aino|north|card.jpg|-",
           "south-01-aino.tif|aino, birk|south|-|yes", "a b.tif|-|south|card|-")
settings = "AIM choir\nFORMAT jpg\nQUALITY 90\nSTRENGTH 0.5\nCURVE frame\nCONFIDENCE 0.4\nFOLLOW none\nEQUALISE yes\n"
seed("plan", "all", "\0".join((settings, job, patches.replace("a.tif", "*"), aims)))
seed("plan", "short", "\0".join(("", job, "", "")))
seed("plan", "follow", "\0".join(("FOLLOW north\nFORMAT same\n", job, patches, aims)))
