"""What the benches on photographs share: the table of photographs, pictures as arrays, CIELAB, and masks of a
face's skin. None of it is the project's own code under measurement: numpy and Pillow alone.

Pictures are arrays of height x width x 3, encoded sRGB 0..1, upright. CIELAB is D50 (IEC 61966-2-1, Bradford)."""
import hashlib
import os
import sys
import numpy as np
from PIL import Image, ImageOps

Image.MAX_IMAGE_PIXELS = None
HERE = os.path.dirname(os.path.abspath(__file__))
TABLE = os.path.join(HERE, "..", "tests", "data", "portraits.tsv")
DEPTHS = ("light", "medium", "deep")
SUFFIXES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".ppm", ".pgm", ".pnm", ".pam")


def fail(line):
    sys.exit("%s: %s" % (os.path.basename(sys.argv[0]), line))


class Face:
    def __init__(self, row):
        self.x, self.y, self.w, self.h = (float(row[k]) for k in "xywh")
        self.tilt, self.view, self.depth = float(row["tilt"]), row["view"], row["complexion"]
        self.points = None if row["points"] == "-" else np.array(row["points"].split(), float).reshape(6, 2) / 100


class Photo:
    def __init__(self, row):
        self.sha, self.set, self.what, self.faces, self.path = row["sha256"], row["set"], row["what"], [], None

    def main(self):
        """The largest face that one may ask for, or None."""
        known = [f for f in self.faces if f.view != "ignore"]
        return max(known, key=lambda f: f.w) if known else None


def table(path=TABLE):
    photos, head = {}, None
    with open(path, encoding="utf-8") as lines:
        for line in lines:
            if line.startswith("#"):
                continue
            cells = line.rstrip("\n").split("\t")
            if head is None:
                head = cells
                continue
            row = dict(zip(head, cells))
            photo = photos.setdefault(row["sha256"], Photo(row))
            if row["face"] != "-":
                photo.faces.append(Face(row))
    return photos


def find(photos, folders):
    """Gives photos their files, wherever below the folders (joined by colons) they lie."""
    for top in folders.split(":"):
        for folder, _, files in os.walk(top):
            for name in files:
                path = os.path.join(folder, name)
                if name.lower().endswith(SUFFIXES) and not os.path.islink(path):
                    with open(path, "rb") as file:
                        sha = hashlib.sha256(file.read()).hexdigest()
                    if sha in photos and photos[sha].path is None:
                        photos[sha].path = path
    return [p for _, p in sorted(photos.items()) if p.path]


def load(photo, side):
    """The picture, upright, its longer side at most side; and the scale that made it so."""
    image = Image.open(photo.path)
    image = ImageOps.exif_transpose(image)
    if image.mode in ("RGBA", "LA", "P", "PA"):  # what shows through is white, as on a page
        image = Image.alpha_composite(Image.new("RGBA", image.size, (255, 255, 255, 255)), image.convert("RGBA"))
    image = image.convert("RGB")
    scale = min(1, side / max(image.size))
    if scale < 1:
        image = image.resize([max(1, round(v * scale)) for v in image.size], Image.BOX)
    return np.asarray(image, np.float64) / 255, scale


def write_pnm(path, picture):
    """16-bit PPM."""
    with open(path, "wb") as file:
        file.write(b"P6\n%d %d\n65535\n" % (picture.shape[1], picture.shape[0]))
        file.write(np.round(np.clip(picture, 0, 1) * 65535).astype(">u2").tobytes())


def read_pnm(path):
    with open(path, "rb") as file:
        data = file.read()
    fields, at = [], 0
    while len(fields) < 4:
        while data[at:at + 1].isspace():
            at += 1
        if data[at:at + 1] == b"#":
            at = data.index(b"\n", at)
            continue
        end = at
        while not data[end:end + 1].isspace():
            end += 1
        fields.append(data[at:end])
        at = end
    width, height, most = (int(v) for v in fields[1:])
    kind = ">u2" if most > 255 else "u1"
    return np.frombuffer(data, kind, width * height * 3, at + 1).reshape(height, width, 3) / most


TO_XYZ = np.array([[.4360747, .3850649, .1430804], [.2225045, .7168786, .0606169], [.0139322, .0971045, .7141733]])
WHITE = np.array([.9642, 1, .8249])


def linear(v):
    return np.where(v <= .04045, v / 12.92, ((v + .055) / 1.055) ** 2.4)


def encoded(v):
    v = np.clip(v, 0, 1)
    return np.where(v <= .0031308, v * 12.92, 1.055 * v ** (1 / 2.4) - .055)


def lab(picture):
    x = linear(picture) @ TO_XYZ.T / WHITE
    f = np.where(x > 216 / 24389, np.cbrt(x), (24389 / 27 * x + 16) / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)


def ciede2000(p, q):
    """CIE 142; Sharma, Wu, Dalal 2005; arrays of ... x 3."""
    c = (np.hypot(p[..., 1], p[..., 2]) + np.hypot(q[..., 1], q[..., 2])) / 2
    g = 1.5 - .5 * np.sqrt(c ** 7 / (c ** 7 + 25. ** 7))
    a1, a2 = p[..., 1] * g, q[..., 1] * g
    c1, c2 = np.hypot(a1, p[..., 2]), np.hypot(a2, q[..., 2])
    h1, h2 = np.degrees(np.arctan2(p[..., 2], a1)) % 360, np.degrees(np.arctan2(q[..., 2], a2)) % 360
    dh = h2 - h1
    dh = np.where(dh > 180 + 1e-9, dh - 360, np.where(dh < -180 - 1e-9, dh + 360, dh))
    dh = np.where(c1 * c2 == 0, 0, dh)
    dH = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(dh / 2))
    L, C = (p[..., 0] + q[..., 0]) / 2, (c1 + c2) / 2
    h = np.where(c1 * c2 == 0, h1 + h2, (h1 + dh / 2) % 360)
    T = (1 - .17 * np.cos(np.radians(h - 30)) + .24 * np.cos(np.radians(2 * h)) + .32 * np.cos(np.radians(3 * h + 6))
         - .20 * np.cos(np.radians(4 * h - 63)))
    SL = 1 + .015 * (L - 50) ** 2 / np.sqrt(20 + (L - 50) ** 2)
    SC, SH = 1 + .045 * C, 1 + .015 * C * T
    RT = -np.sin(np.radians(60 * np.exp(-((h - 275) / 25) ** 2))) * 2 * np.sqrt(C ** 7 / (C ** 7 + 25. ** 7))
    x, y, z = (q[..., 0] - p[..., 0]) / SL, (c2 - c1) / SC, dH / SH
    return np.sqrt(np.maximum(0, x * x + y * y + z * z + RT * y * z))


def ellipse(shape, x, y, w, h, tilt):
    """Which pixels lie in the ellipse of a box that is turned by tilt degrees, clockwise as seen."""
    yy, xx = np.mgrid[0:shape[0], 0:shape[1]] + .5
    c, s = np.cos(np.radians(tilt)), np.sin(np.radians(tilt))
    u, v = xx - x - w / 2, yy - y - h / 2
    return ((u * c + v * s) / (w / 2)) ** 2 + ((v * c - u * s) / (h / 2)) ** 2 < 1


def oval(face, scale, shape):
    return ellipse(shape, face.x * scale, face.y * scale, face.w * scale, face.h * scale, face.tilt)


def cover(box, face, scale, shape):
    """Shares of the proposal's oval in the face's, and of the face's oval in the proposal's."""
    k = min(1, 200 / max(shape))
    small = [max(1, round(v * k)) for v in shape]
    p = ellipse(small, *(v * k for v in box[:4]), box[4])
    f = oval(face, scale * k, small)
    both = (p & f).sum()
    return both / max(1, p.sum()), both / max(1, f.sum())


def right(box, photo, scale, shape):
    """The face that a proposal (x y w h tilt) is right about, or None: 7 tenths of its oval lie in the face's, and it covers 4 tenths of that."""
    best = None
    for face in photo.faces:
        inside, covered = cover(box, face, scale, shape)
        if inside >= .7 and covered >= .4 and (best is None or inside * covered > best[0]):
            best = inside * covered, face
    return best[1] if best else None


def skin(q, face, scale, like=.4):
    """The face's skin in CIELAB q: its oval without eyes, brows and mouth, of that what has its own a*/(L*+16), b*/(L*+16)
    (which shading leaves alone) within a share `like` of its chroma, and is neither hair-dark nor burnt out: 0.4 leaves out
    red noses and ears, 0.8 has them in. Made without the project's own finder."""
    m = oval(face, scale, q.shape[:2])
    if face.points is not None:
        size = np.array([q.shape[1], q.shape[0]])
        right, left, _, mouth = (p * size for p in face.points[:4])
        unit = np.linalg.norm((right + left) / 2 - mouth) + 1e-6
        up = ((right + left) / 2 - mouth) / unit
        for at, wide, high in ((right + up * unit * .12, .36, .30), (left + up * unit * .12, .36, .30), (mouth, .5, .27)):
            m &= ~ellipse(q.shape[:2], at[0] - wide * unit, at[1] - high * unit, 2 * wide * unit, 2 * high * unit, face.tilt)
    m &= (np.hypot(q[..., 1], q[..., 2]) > 4) & (q[..., 0] > 8) & (q[..., 0] < 97)
    if m.sum() < 30:
        return m
    z = (q[..., 1] + 1j * q[..., 2]) / (q[..., 0] + 16)
    middle = np.median(z[m].real) + 1j * np.median(z[m].imag)
    return m & (abs(z - middle) < like * abs(middle)) & (q[..., 0] > .5 * np.median(q[..., 0][m]))


def spread(q):
    """Circular standard deviation of hue, degrees, of colours n x 3."""
    mean = abs(np.exp(1j * np.arctan2(q[:, 2], q[:, 1])).mean())
    return float(np.degrees(np.sqrt(max(0, -2 * np.log(max(mean, 1e-9))))))


def share(part, of):
    return "%3d of %3d" % (part, of) + (" %5.1f %%" % (100 * part / of) if of else "      -  ")
