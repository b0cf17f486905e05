#!/usr/bin/env bash
# What the benches on photographs measure with (scripts/photos.py), and the table of photographs.
. "$(dirname "$0")/lib.sh"

check "CIEDE2000 of the benches is that of Sharma, Wu and Dalal to 1e-4" /usr/bin/python3 -B - "$TOP/scripts" "$DATA" <<'E1'
import sys
sys.path.insert(0, sys.argv[1])
import numpy as np, photos
rows = [l.split("\t") for l in open(sys.argv[2] + "/ciede2000_sharma2005.tsv") if not l.startswith(("#", "pair"))]
t = np.array(rows, float)
assert len(t) == 34 and abs(photos.ciede2000(t[:, 1:4], t[:, 4:7]) - t[:, 7]).max() < 1e-4
E1
check "CIELAB of the benches is lcms2's to 0.05, and a picture written is read back" /usr/bin/python3 -B - "$TOP/scripts" "$T" "$BIN" <<'E2'
import sys
sys.path.insert(0, sys.argv[1])
import subprocess, numpy as np, photos
folder, programs = sys.argv[2:]
colours = np.array([[.8, .6, .5], [.35, .22, .16], [.95, .8, .72], [.5, .5, .5]])
picture = np.repeat(np.repeat(colours[None], 40, 1), 40, 0)
photos.write_pnm(folder + "/four.ppm", picture)
assert abs(photos.read_pnm(folder + "/four.ppm") - picture).max() < 1 / 65535
with open(folder + "/four.tsv", "w") as to:
    to.write("frame\tpatch\tx\ty\tw\th\n" + "".join("four.ppm\tp%d\t%d\t5\t30\t30\n" % (i, 40 * i + 5) for i in range(4)))
frames = subprocess.run([programs + "/carn-decode", folder + "/four.ppm"], stdout=subprocess.PIPE, check=True).stdout
lines = subprocess.run([programs + "/carn-sample", "-q", "-p", folder + "/four.tsv"], input=frames, stdout=subprocess.PIPE, check=True).stdout.decode().splitlines()
head = lines[0].split("\t")
for line, want in zip(lines[1:], photos.lab(colours)):
    row = dict(zip(head, line.split("\t")))
    assert max(abs(float(row[k]) - v) for k, v in zip("Lab", want)) < .05, (row, want)
E2
check "a face's skin leaves out eyes, mouth and hair, and knows what turned green" /usr/bin/python3 -B - "$TOP/scripts" <<'E3'
import sys
sys.path.insert(0, sys.argv[1])
import numpy as np, photos
row = dict(x=20, y=10, w=60, h=80, tilt=0, view="frontal", complexion="deep", points="38 42 62 42 50 55 50 70 22 45 78 45")
face = photos.Face(row)
q = np.zeros((100, 100, 3)) + [30, 14, 17]
q[:30] = 12, 2, 2  # hair
q[66:74, 40:60] = 30, 30, 10  # lips
m = photos.skin(q, face, 1)
assert m[55, 30] and not m[20, 50] and not m[70, 50] and not m[42, 38] and not m[50, 5]
assert abs(photos.spread(np.array([[50, 10, 0], [50, 0, 10.]])) - 47.7) < .1  # sqrt(-2 ln cos 45 degrees)
E3
check "the table of photographs: sets follow the hash, ovals lie in order, no file twice" awk -F '\t' '
    /^#/ { next }
    !head++ { for (i = 1; i <= NF; i++) h[$i] = i; next }
    {
        sha = $h["sha256"]
        set = $h["set"]
        later = sub(/2$|-made$/, "", set)
        want = later ? (sha ~ /^[0-7]/ ? "choose" : "report") : sha ~ /^[0-5]/ ? "fit" : sha ~ /^[6-9a]/ ? "choose" : "report"
        bad += sha !~ /^[0-9a-f]+$/ || length(sha) != 64 || set != want || seen[sha, $h["face"]]++
        bad += ($h["set"] ~ /-made$/) != ($h["package"] == "npm:fake-avatars")
        bad += $h["what"] !~ /^(person|grey|figure|none)$/
        if ($h["face"] == "-") next
        bad += $h["w"] < 4 || $h["h"] < $h["w"] || $h["view"] !~ /^(frontal|three-quarter|profile|ignore)$/
        bad += $h["what"] == "person" && $h["complexion"] !~ /^(light|medium|deep)$/
        bad += $h["points"] != "-" && split($h["points"], p, " ") != 12
        n++
    }
    END { exit bad > 0 || n < 600 }' "$DATA/portraits.tsv"
finish
