#!/usr/bin/env bash
# carn-correct without a row for skin: the face is found, moved and proved, light, medium and deep.
. "$(dirname "$0")/lib.sh"

for s in birk fenna kesi; do
    scene=("$SCENE" -s "$s" --camera south --card -w 360 -h 480 --seed 61 -n "$s.tif")
    "${scene[@]}" | carn-encode -b 16 $s.tif
    "${scene[@]}" --patches | awk -F '\t' 'NR == 1 || $3 == "card"' >$s.card
    check "$s: only the card is marked" carn-correct -B -w $s -p $s.card $s.tif $s.out.tif
    holds "$s: three tones of a face are on" 'c["verdict"] == "on" && c["patch"] == "face-1"' $s/after.scored
    holds "$s: its L* is the same, within 0.05" 'abs(c["dL"]) < 0.05' $s/after.scored
    is "$s: which the table says" "$(grep -cE '^face-1 (light|middle|shade) +L\* .*, [+-]0\.0[0-4] by the correction' out)" 3
    is "$s: and how hue spreads" "$(grep -c '^face-1 .*hue spread [0-9.]* to [0-9.]* degrees, green 0.0 to 0.0 %' out)" 1
done
# The rule holds for the middle of the face in the written file. netpbm reads it, and numpy takes the pixels that the
# bitmap of the face has; tests/inks.py tells their inks (xicclu 3 goes between the nodes of the table another way:
# tests/inks.sh). It knows no black-point compensation, hence -B above.
rule() { # SINGER: both ratios
    tifftopnm -quiet "$1.out.tif" 2>/dev/null >whole.ppm
    /usr/bin/python3 -B - "$TOP/scripts" whole.ppm "$1/skin.pbm" <<'E1' | "$TOP/tests/inks.py" "$TOP/lib/data/coated-late-black.icc" | awk '{ printf "%.4f %.4f\n", $2 / $1, $3 / $2 }'
import subprocess, sys
sys.path.insert(0, sys.argv[1])
import numpy as np, photos
picture = photos.read_pnm(sys.argv[2])
bits = subprocess.run(["pnmtopnm", "-plain", sys.argv[3]], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL).stdout.split()
width, height = int(bits[1]), int(bits[2])
mask = np.array([c for c in b"".join(bits[3:])]).reshape(height, width) == ord("1")
assert picture.shape[:2] == mask.shape
face = picture[mask]
face = face[np.argsort(photos.lab(face)[:, 0], kind="stable")]
print(*photos.lab(face[int(.375 * len(face)):int(.625 * len(face))].mean(0)))
E1
}
if have tifftopnm && /usr/bin/python3 -c 'import numpy, PIL' 2>/dev/null; then
    for s in birk fenna kesi; do
        figures=$(rule $s)
        awk '{ exit !($1 > 1.97 && $1 < 2.03 && $2 > 1.23 && $2 < 1.27) }' <<<"$figures" && pass "$s: 2.00 +-0.03 and 1.25 +-0.02 by numpy: $figures" ||
            fail "$s: 2.00 +-0.03 and 1.25 +-0.02 by numpy" "$figures"
    done
else
    skip "the rule by numpy" "no netpbm or numpy"
fi
check "no row at all, the card in another picture" carn-correct -B -n birk/neutral.curve birk.tif all.tif
same "gives the same picture" all.tif birk.out.tif
# What an earlier run left in the folder may be read, but not where it would be removed first.
find birk -printf "%p %i %s %l\n" | sort >listed
refused "its own neutral curve, for the same folder" carn-correct -n birk/neutral.curve -w birk birk.tif again.tif
says "is told with a way out" "^carn-correct: birk/neutral.curve: is one of the files that -w writes; copy it, or name another folder"
refused "its own table of faces" carn-correct -p birk/found.patches -w birk birk.tif again.tif
refused "by another name" carn-correct -p "$PWD/birk/../birk/found.patches" -w birk/. birk.tif again.tif
refused "the picture that stands for the delivered one" carn-correct -w birk birk/delivered/birk.tif again.tif
is "nothing is removed or written" "$(find birk again.tif -printf "%p %i %s %l\n" 2>/dev/null | sort | diff - listed)" ""
cp birk/neutral.curve own.curve
check "a copy serves" carn-correct -B -n own.curve -w birk birk.tif again.tif
same "with the same picture" again.tif birk.out.tif
check "and so does its own for another folder" carn-correct -B -n own.curve -w elsewhere birk.tif again.tif
cp own.curve birk/neutral.curve
# Deep in front, light behind: each by a curve of its own onto the rule.
"$SCENE" -s kesi --with birk --camera south -w 360 -h 480 -n two.tif | carn-encode -b 16 two.tif
check "two people" carn-correct -B -w two two.tif two.out.tif
is "two people: a turn each, from left to right" "$(grep -oE '^face-[12]: turn' out | tr '\n' ' ')" "face-1: turn face-2: turn "
holds "two people: both middles meet the rule, as one curve for both would not" \
    'c["tone"] != "middle" || c["verdict"] == "on" && abs(c["magenta_by_cyan"] - 2) < 0.03 && abs(c["yellow_by_magenta"] - 1.25) < 0.02' two/after.scored
# carn-correct forks its filters; as programs of their own they make the same bytes.
carn-decode birk.tif | carn-curve-apply -c birk/neutral.curve 2>/dev/null | carn-skin-weight -r birk/before.readings -p birk/found.patches |
    carn-curve-apply -c birk/skin.curve | carn-encode -b 16 piped.tif
same "the same bytes as from a pipeline" piped.tif birk.out.tif
check "depth and quality of the file are as asked" carn-correct -B -b 8 -q 90 -n birk/neutral.curve birk.tif asked.jpg
carn-decode birk.out.tif | carn-encode -b 8 -q 90 piped.jpg 2>/dev/null
same "and as carn-encode has them" asked.jpg piped.jpg
# Every filter that meets a picture without a profile says so; here it is said once.
"$SCENE" -s fenna -w 240 -h 320 -n f | pamtopnm >raw.ppm 2>/dev/null
mkdir -p elsewhere
status 0 "a picture without a profile is corrected" carn-correct -B raw.ppm elsewhere/other.ppm
is "and is noted once" "$(grep ': note: ' err)" "carn-decode: note: raw.ppm: no profile, taken as sRGB"
mkdir hall
TMPDIR=$PWD/hall carn-correct -B birk.tif stopped.tif >/dev/null 2>&1 &
victim=$!
until [ -n "$(ls hall)" ] || ! kill -0 $victim 2>/dev/null; do sleep 0.02; done
kill -TERM $victim
got=0 && wait $victim 2>/dev/null || got=$?
is "a signal ends it, and takes the temporary folder along" "$got $(ls hall)" "143 "
ppmmake rgb:70/80/90 200 200 >plain.ppm
status 1 "no face: delivered as it is" carn-correct plain.ppm plain.png
says "which is said" "^carn-correct: .*: no face with the colour of skin found, delivered as it is"
pngtopnm plain.png >plain.out
same "with the same samples" plain.out plain.ppm

# carn-audit finds faces as well; of each the middle is judged.
status 0 "what is delivered passes an audit" carn-audit -B {birk,fenna,kesi}.out.tif
holds "a verdict for each middle, none for light and shade" '(c["tone"] == "middle") == (c["verdict"] == "on")' out
is "three faces" "$(tail -n +2 out | cut -f 1 | sort | uniq -c | tr -s ' \n' ' ')" " 3 birk.out.tif 3 fenna.out.tif 3 kesi.out.tif "
status 1 "what was not corrected does not" carn-audit -B birk.tif fenna.tif
is "and its middles come first" "$(sed -n '2,3p' out | cut -f 5 | sort -u)" middle
refused "no face in any picture" carn-audit plain.ppm
printf 'frame\tsubject\nbirk.tif\tbirk\n' >audit.job
carn-decode -j audit.job birk.tif | carn-sample -q -B -p birk/found.patches | tee audit.readings | carn-aim-meet -B - >audit.aims
status 1 "against a person's own colour" carn-audit -B --by-subject -f audit.aims -j audit.job birk.tif
is "the aim is the person" "$(tsv '$h["tone"] == "middle" { print $h["aim"], $h["verdict"] }' out)" "birk off"
finish
