"""All skin of the singers' faces in what a job delivered, from the written files, without our code.

usage: whole.py SCRIPTS FOLDER SINGERS   (SINGERS: name, depth)
FOLDER/out has north-NAME.tif and south-NAME.tif, FOLDER/ideal has NAME.tif, what a camera without faults saw of the same scene.
Prints a table by depth: CIEDE2000 between the cameras and to the ideal picture turned as a whole to the delivered middle colour
(mean, and the worst 95th percentile of a face), and by how much the spread of hue exceeds 1.25 times the ideal's, degrees.
"""
import subprocess
import sys
sys.path.insert(0, sys.argv[1])
import numpy as np
import photos

BLUR = 2  # pixels each way; grain is not what a person compares
FACE = (.5, .47, .2, .185)  # middle and half axes of the scene's face, shares of width and height
LEFT_OUT = ((.4, .405, .085, .055), (.6, .405, .085, .055), (.5, .57, .1, .045))  # eyes with brows, mouth


def read(path):
    with open(path + ".ppm", "wb") as to:
        subprocess.run(["tifftopnm", "-quiet", path], stdout=to, stderr=subprocess.DEVNULL, check=True)
    picture = photos.read_pnm(path + ".ppm")
    padded = np.pad(picture, ((BLUR, BLUR), (BLUR, BLUR), (0, 0)), mode="edge")
    views = [padded[y:y + picture.shape[0], x:x + picture.shape[1]] for y in range(2 * BLUR + 1) for x in range(2 * BLUR + 1)]
    return photos.lab(sum(views) / len(views))


def skin(ideal):
    """The face's oval without eyes and mouth, of that what has its own colour in the ideal picture; its edge left out."""
    height, width = ideal.shape[:2]
    y, x = np.mgrid[0:height, 0:width]

    def inside(cx, cy, a, b):
        return ((x / width - cx) / a) ** 2 + ((y / height - cy) / b) ** 2 < 1
    mask = inside(*FACE)
    for part in LEFT_OUT:
        mask &= ~inside(*part)
    z = (ideal[..., 1] + 1j * ideal[..., 2]) / (ideal[..., 0] + 16)
    own = np.median(z[mask].real) + 1j * np.median(z[mask].imag)
    mask &= (abs(z - own) < .25 * abs(own)) & (ideal[..., 0] > .55 * np.median(ideal[mask][:, 0]))
    for _ in range(3):
        mask = mask & np.roll(mask, 1, 0) & np.roll(mask, -1, 0) & np.roll(mask, 1, 1) & np.roll(mask, -1, 1)
    return mask


def plane(q):
    return q[..., 1] + 1j * q[..., 2]


def middle(q):
    order = np.argsort(q[:, 0])
    return q[order[int(.375 * len(q)):int(.625 * len(q))]].mean(0)


figures = {}
folder = sys.argv[2]
for line in open(sys.argv[3]).read().splitlines()[1:]:
    name, depth = line.split("\t")[:2]
    ideal = read("%s/ideal/%s.tif" % (folder, name))
    mask = skin(ideal)
    ideal = ideal[mask]
    cameras = [read("%s/out/%s-%s.tif" % (folder, c, name))[mask] for c in ("north", "south")]
    between = photos.ciede2000(*cameras)
    z = plane(ideal) * np.mean([plane(middle(c)) for c in cameras]) / plane(middle(ideal))
    apart = [photos.ciede2000(c, np.stack([c[:, 0], z.real, z.imag], -1)) for c in cameras]
    figures.setdefault(depth, []).append((between.mean(), np.percentile(between, 95), max(a.mean() for a in apart),
                                          max(np.percentile(a, 95) for a in apart),
                                          max(photos.spread(c) for c in cameras) - 1.25 * photos.spread(ideal)))
print("depth\tfaces\tbetween\tbetween_95\tideal\tideal_95\tspread")
for depth, rows in figures.items():
    rows = np.array(rows)
    print("%s\t%d\t%.3f\t%.3f\t%.3f\t%.3f\t%.3f" % (depth, len(rows), rows[:, 0].mean(), rows[:, 1].max(), rows[:, 2].mean(),
                                                     rows[:, 3].max(), rows[:, 4].max()))
