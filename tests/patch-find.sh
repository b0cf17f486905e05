#!/usr/bin/env bash
# Patches proposed on scenes of known geometry: on the skin of a face every time, whatever is behind
# and beside it; the stream, the upright picture and honest nothing.
. "$(dirname "$0")/lib.sh"
cd "$T" || exit 1

"$SCENE" --list >singers.tsv
mapfile -t singers < <(tail -n +2 singers.tsv | cut -f 1)
backs=("" "--door" "--brick" "--scarf" "--door --scarf" "--brick --scarf" "--card")
scene() { "$SCENE" -w 384 -h 512 "$@"; }

# Where faces are, as tests/scene/compose.c has it: middle and half height in picture heights. A
# patch is good when its four corners are on the face and off eyes and lips.
cat >judge.awk <<'A'
function face(x, y, size) { n++; fx[n] = x; fy[n] = y; fs[n] = size }
function off(u, v) { return (u / .68)^2 + (v / 0.97)^2 > 1 || (v > -.12 && v < 0 && ((u > -.41 && u < -.17) || (u > .17 && u < .41))) || (u > -.2 && u < .2 && v > .5 && v < .64) }
NR == 1 { next }
{
    n = 0
    if ($1 ~ /two/) { face(-.10, .42, .245); face(.21, .36, .205) } else face(0, .42, .245)
    gsub("%", ""); on = 0
    for (i = 1; i <= n; i++) {
        bad = 0
        for (k = 0; k < 4; k++) {
            x = (($4 + (k % 2) * $6) / 100 - .5) * .75; y = ($5 + int(k / 2) * $7) / 100
            bad += off((x - fx[i]) / fs[i], (y - fy[i]) / fs[i])
        }
        if (bad == 0) on = i
    }
    print $1, $2, $3, on, $8
}
A
scenes() { # CAMERA: the stream of all singers with everything behind them, the names tell
    local i=0 back who
    for who in "${singers[@]}"; do
        for back in 0 1 2; do
            # shellcheck disable=SC2086 # options
            scene -s "$who" --camera "$1" ${backs[(i + back * 3) % 7]} -n "$who-$back"
        done
        # shellcheck disable=SC2086 # options
        scene -s "$who" --camera "$1" ${backs[i % 7]} --with "${singers[(i + 7) % 12]}" -n "$who-two"
        i=$((i + 1))
    done
}
find_all() { # CAMERA
    local got=0
    scenes "$1" | carn-patch-find >"$1.tsv" 2>"$1.err" || got=$?
    echo $got >"$1.status"
}
find_all north &
find_all south
wait
for camera in north south; do
    [ "$(cat $camera.status)" = 0 ] && pass "$camera: 48 frames, a proposal in each" || fail "$camera: 48 frames, a proposal in each" "$(cut -f 1 $camera.tsv | sort -u | wc -l)" "$(cat $camera.err)"
    awk -F '\t' -v OFS='\t' -f judge.awk $camera.tsv >$camera.judged
    counts=$(awk -F '\t' -v OFS=' ' 'NR == FNR { d[$1] = $2; next } { split($1, p, "-"); k = d[p[1]]; n[k]++; on[k] += $4 > 0 } END { for (k in n) printf "%s %d of %d, ", k, on[k], n[k] }' singers.tsv $camera.judged)
    awk -F '\t' '$4 == 0 { bad++ } END { exit !NR || bad > 0 }' $camera.judged && pass "$camera: every patch on the skin of a face: $counts" || fail "$camera: every patch on the skin of a face: $counts" "$(awk -F '\t' '$4 == 0' $camera.judged | head -n 20)"
    awk -F '\t' '{ split($2, p, "-"); k = $1 SUBSEP p[1]; if (k in of && of[k] != $4) bad++; of[k] = $4 } END { exit bad > 0 }' $camera.judged && pass "$camera: patches of one name are on one face" || fail "$camera: patches of one name are on one face"
    [ "$(awk -F '\t' '$3 == "middle" { print $1 }' $camera.judged | sort -u | wc -l)" = 48 ] && pass "$camera: a middle patch each" || fail "$camera: a middle patch each"
    printf '# %s: both of two people found in %s of 12\n' $camera "$(awk -F '\t' '$1 ~ /two/ { print $1 FS $4 }' $camera.judged | sort -u | awk -F '\t' '{ n[$1]++ } END { for (k in n) m += n[k] == 2; print m + 0 }')"
done

# ---- readings are good ----
scene -s emre --camera north -n emre.tif >emre.pam
carn-patch-find <emre.pam >emre.tsv
check "a table that carn-sample takes" carn-sample -p emre.tsv <emre.pam
cp out readings
holds "whose readings are of skin, none doubtful" 'c["flags"] == "-" && c["hue"] > 40 && c["hue"] < 75' readings
holds "light is lighter than middle, middle than shade" '(rows == 1 || c["L"] < last) && (last = c["L"])' readings
holds "confidence is within 0 and 1" 'c["confidence"] > 0 && c["confidence"] <= 1' emre.tsv
carn-patch-find -n 1 <emre.pam >one.tsv
[ "$(tail -n +2 one.tsv | cut -f 3)" = middle ] && pass "-n 1 is the middle" || fail "-n 1 is the middle" "$(cat one.tsv)"
[ "$(carn-patch-find -n 2 <emre.pam | tail -n +2 | wc -l)" = 2 ] && pass "-n 2 is two" || fail "-n 2 is two"

# ---- upright, and smaller ----
carn-blur-average -w 200 <emre.pam | carn-patch-find >small.tsv
[ "$(tail -n +2 small.tsv | wc -l)" -ge 2 ] && pass "of an averaged-down frame" || fail "of an averaged-down frame" "$(cat small.tsv)"
check "they serve the frame at full size" carn-sample -q -p small.tsv <emre.pam
cp out fromsmall
holds "with readings as good" 'c["flags"] == "-" && c["hue"] > 40 && c["hue"] < 75' fromsmall
# A camera held on its side stores the picture turned, and says so.
pamtopnm <emre.pam >emre.ppm 2>/dev/null
for o in 2:-leftright 3:-r180 4:-topbottom 5:-transpose 6:-r90 8:-r270; do
    pamflip "${o#*:}" emre.ppm | pamtopam | sed "1a #@ name emre.tif\n#@ orientation ${o%:*}" >turned.pam
    carn-patch-find <turned.pam >turned.tsv 2>/dev/null
    awk -F '\t' 'NR == FNR { x[$2] = $4; y[$2] = $5; next } FNR > 1 { n++; dx = $4 - x[$2]; dy = $5 - y[$2]; if (!($2 in x) || dx * dx + dy * dy > 1) bad++ } END { exit !(n >= 2) || bad > 0 }' emre.tsv turned.tsv &&
        pass "orientation ${o%:*}: the same places of the upright picture" || fail "orientation ${o%:*}: the same places" "$(cat emre.tsv turned.tsv)"
done

# ---- nothing ----
status 1 "the chart has no face" carn-patch-find < <("$SCENE" --chart)
[ "$(wc -l <out)" = 1 ] && head -n 1 out | grep -q '^frame' && pass "and gives the header alone" || fail "and gives the header alone" "$(cat out)"
status 1 "nor when its fields are blurred into each other" carn-patch-find < <("$SCENE" --chart | carn-blur-average -s 30)
printf 'P5\n2 2\n255\nabcd' >grey.pgm
status 1 "a grey frame has none either" carn-patch-find <grey.pgm
status 1 "one of two frames without is status 1" carn-patch-find < <(cat emre.pam; "$SCENE" --chart)
[ "$(wc -l <out)" = "$(wc -l <emre.tsv)" ] && pass "and the other's patches are there" || fail "and the other's patches are there"
refused "-n 0" carn-patch-find -n 0 <emre.pam
refused "-n 4" carn-patch-find -n 4 <emre.pam
finish
