#!/usr/bin/env bash
# Patches proposed on scenes of known geometry: on the skin of a face every time, whatever is behind
# and beside it; the stream, the upright picture and honest nothing.
. "$(dirname "$0")/lib.sh"

"$SCENE" --list >singers.tsv
mapfile -t singers < <(tail -n +2 singers.tsv | cut -f 1)
backs=("" "--door" "--brick" "--scarf" "--door --scarf" "--brick --scarf" "--card")
scene() { "$SCENE" -w 384 -h 512 "$@"; }

# Where faces are, as tests/scene/compose.c has it: middle and half height in picture heights, the
# picture three quarters as wide. In these measures of a head a face's oval has its middle 0.13 under
# the head's, is 0.58 wide and 0.88 high, half axes (hairline to chin, ears left out). Who stands behind
# is partly covered, an ear too.
cat >judge.awk <<'A'
function head(x, y, size) { n++; hx[n] = x; hy[n] = y; hs[n] = size }
function abs(x) { return x < 0 ? -x : x }
NR == 1 { next }
{
    n = 0; on = 0
    if ($1 ~ /two/) { head(-.10, .42, .245); head(.21, .36, .205) } else head(0, .42, .245)
    gsub("%", "")
    for (i = 1; i <= n; i++) {
        u = (($4 + $6 / 2) / 100 - .5) * .75 - hx[i]; v = ($5 + $7 / 2) / 100 - hy[i]
        w = $6 / 200 * .75; h = $7 / 200
        if (abs(u / hs[i]) < (i == 1 ? .06 : .18) && abs(v / hs[i] - .13) < .06 && abs(w / hs[i] - .58) < .06 && abs(h / hs[i] - .88) < .08 && abs($8) < (i == 1 ? 4 : 6)) on = i
    }
    print $1, $2, $3, on, $10
}
A
# A square is good when its four corners are on the face and off eyes and lips.
cat >squares.awk <<'A'
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
    scenes "$1" | tee "$1.pam" | carn-patch-find >"$1.tsv" 2>"$1.err" || got=$?
    echo $got >"$1.status"
    carn-patch-find --squares 3 <"$1.pam" >"$1.squares" 2>>"$1.err"
    rm "$1.pam"
}
find_all north &
find_all south
wait
depths() { # JUDGED: how many rows lie on a face, by depth of tone
    awk -F '\t' -v OFS=' ' 'NR == FNR { d[$1] = $2; next } { split($1, p, "-"); k = d[p[1]]; n[k]++; on[k] += $4 > 0 } END { for (k in n) printf "%s %d of %d, ", k, on[k], n[k] }' singers.tsv "$1"
}
for camera in north south; do
    [ "$(cat $camera.status)" = 0 ] && pass "$camera: 48 frames, a face in each" || fail "$camera: 48 frames, a face in each" "$(cut -f 1 $camera.tsv | sort -u | wc -l)" "$(cat $camera.err)"
    awk -F '\t' -v OFS='\t' -f judge.awk $camera.tsv >$camera.judged
    awk -F '\t' '$4 == 0 { bad++ } END { exit NR != 60 || bad > 0 }' $camera.judged && pass "$camera: both of two people, nothing else, ovals in place: $(depths $camera.judged)" ||
        fail "$camera: both of two people, nothing else, ovals in place: $(depths $camera.judged)" "$(wc -l <$camera.judged) faces" "$(awk -F '\t' '$4 == 0' $camera.judged | head -n 20)"
    holds "$camera: each sure, who is in front the more" 'c["confidence"] >= (c["patch"] == "face-2" ? 0.4 : 0.8) && c["tone"] == "all" && c["kind"] == "face"' $camera.tsv
    awk -F '\t' '$1 ~ /two/ { if ($2 != "face-" $4) bad++ } END { exit !NR || bad > 0 }' $camera.judged && pass "$camera: named from left to right" || fail "$camera: named from left to right"
    awk -F '\t' -v OFS='\t' -f squares.awk $camera.squares >$camera.judged
    awk -F '\t' '$4 == 0 { bad++ } END { exit !NR || bad > 0 }' $camera.judged && pass "$camera: every square on the skin of a face: $(depths $camera.judged)" || fail "$camera: every square on the skin of a face: $(depths $camera.judged)" "$(awk -F '\t' '$4 == 0' $camera.judged | head -n 20)"
    awk -F '\t' '{ split($2, p, "-"); k = $1 SUBSEP p[1]; if (k in of && of[k] != $4) bad++; of[k] = $4 } END { exit bad > 0 }' $camera.judged && pass "$camera: squares of one name are on one face" || fail "$camera: squares of one name are on one face"
    [ "$(awk -F '\t' '$3 == "middle" { print $1 }' $camera.judged | sort -u | wc -l)" = 48 ] && pass "$camera: a middle square each" || fail "$camera: a middle square each"
done

# ---- the same place every time ----
# The oval's middle and half its change of size, by its width, in what is made of one frame: grain,
# casts, exposure, size, a border. All singers.
for who in "${singers[@]}"; do scene -s "$who" -n "$who"; done >plain.pam
for who in "${singers[@]}"; do scene -s "$who" -n "$who" --grain 3; done >grain.pam
for who in "${singers[@]}"; do scene -s "$who" -n "$who" --cast 2; done >cast.pam
carn-blur-average -w 192 <plain.pam >half.pam
carn-patch-find <plain.pam >plain.tsv
for change in grain cast half; do
    carn-patch-find <$change.pam >$change.tsv
    moved=$(awk -F '\t' 'FNR == 1 { next } { gsub("%", "") } NR == FNR { x[$1] = $4 + $6 / 2; y[$1] = $5 + $7 / 2; w[$1] = $6; next }
        { n++; dx = $4 + $6 / 2 - x[$1]; dy = ($5 + $7 / 2 - y[$1]) / .75; d = sqrt(dx * dx + dy * dy) / w[$1]; s = ($6 / w[$1] - 1) / 2; if (s < 0) s = -s; if (s > d) d = s; if (d > most) most = d }
        END { printf "%d %.3f", n, most }' plain.tsv $change.tsv)
    read -r n most <<<"$moved"
    awk -v n="$n" -v most="$most" 'BEGIN { exit !(n == 12 && most < 0.1) }' && pass "$change: 12 of 12 faces, moved by at most $most of their width" || fail "$change: 12 of 12 faces, moved by under 0.1 of their width" "$moved"
done
# ---- readings are good ----
scene -s emre --camera north -n emre.tif >emre.pam
carn-patch-find --squares 3 <emre.pam >emre.tsv
check "a table that carn-sample takes" carn-sample -p emre.tsv <emre.pam
cp out readings
holds "whose readings are of skin, none doubtful" 'c["flags"] == "-" && c["hue"] > 40 && c["hue"] < 75' readings
holds "light is lighter than middle, middle than shade" '(rows == 1 || c["L"] < last) && (last = c["L"])' readings
holds "confidence is within 0 and 1" 'c["confidence"] > 0 && c["confidence"] <= 1' emre.tsv
carn-patch-find -s 1 <emre.pam >one.tsv
[ "$(tail -n +2 one.tsv | cut -f 3)" = middle ] && pass "-s 1 is the middle" || fail "-s 1 is the middle" "$(cat one.tsv)"
[ "$(carn-patch-find -s 2 <emre.pam | tail -n +2 | wc -l)" = 2 ] && pass "-s 2 is two" || fail "-s 2 is two"
carn-patch-find <emre.pam >face.tsv
check "a face that carn-sample takes" carn-sample -p face.tsv <emre.pam
cp out readings
holds "in three tones of skin, none doubtful" 'c["flags"] == "-" && c["hue"] > 40 && c["hue"] < 75 && (rows == 1 || c["L"] < last) && (last = c["L"])' readings

# ---- bare skin where no face is ----
# A cheek of each depth, on greys. A job that finds faces does not ask for it.
pgmramp -lr 160 160 | pgmtoppm white >greys.ppm 2>/dev/null
for who in aino emre lamin; do
    scene -s "$who" | pamtopnm 2>/dev/null | pamcut -left 160 -top 235 -width 64 -height 42 |
        pnmpaste - 40 50 greys.ppm 2>/dev/null | pamtopam | sed "1a #@ name $who.tif"
done >cheeks.pam
status 1 "a cheek is no face" carn-patch-find <cheeks.pam
is "and gives no row" "$(wc -l <out)" 1
status 1 "with -b either" carn-patch-find -b <cheeks.pam
cp out bodies.tsv
holds "but a row of its own kind, in its place, light, medium and deep" 'c["patch"] == "body-1" && c["kind"] == "body" && c["tone"] == "all" && c["points"] == "-" && c["confidence"] > 0 && c["confidence"] < 0.2 &&
    abs(c["x"] + c["w"] / 2 - 45) < 12 && abs(c["y"] + c["h"] / 2 - 44) < 8 && c["w"] * c["h"] > 200 && c["w"] * c["h"] < 700' bodies.tsv
is "three of them" "$(tail -n +2 bodies.tsv | cut -f 1 | tr '\n' ' ')" "aino.tif emre.tif lamin.tif "
check "carn-sample takes it" carn-sample -q -p bodies.tsv <cheeks.pam
cp out readings
holds "as skin" 'c["flags"] !~ /not-skin/ && c["hue"] > 40 && c["hue"] < 75' readings
carn-patch-find -b <emre.pam | cmp -s - face.tsv && pass "beside a face there is none" || fail "beside a face there is none"

# ---- upright, and smaller ----
carn-blur-average -w 200 <emre.pam | carn-patch-find -s 3 >small.tsv
[ "$(tail -n +2 small.tsv | wc -l)" -ge 2 ] && pass "of an averaged-down frame" || fail "of an averaged-down frame" "$(cat small.tsv)"
check "they serve the frame at full size" carn-sample -q -p small.tsv <emre.pam
cp out fromsmall
holds "with readings as good" 'c["flags"] == "-" && c["hue"] > 40 && c["hue"] < 75' fromsmall
# A camera held on its side stores the picture turned, and says so.
pamtopnm <emre.pam >emre.ppm 2>/dev/null
for o in 2:-leftright 3:-r180 4:-topbottom 5:-transpose 6:-r90 8:-r270; do
    pamflip "${o#*:}" emre.ppm | pamtopam | sed "1a #@ name emre.tif\n#@ orientation ${o%:*}" >turned.pam
    carn-patch-find -s 3 <turned.pam >turned.tsv 2>/dev/null
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
[ "$(wc -l <out)" = "$(wc -l <face.tsv)" ] && pass "and the other's patches are there" || fail "and the other's patches are there"
for tone in white '#ffdb99' '#e8c8a0' '#ffb080'; do
    pamtopnm <emre.pam 2>/dev/null | ppmtopgm | pgmtoppm "$tone" >toned.ppm
    status 1 "nor has a portrait in one colour, $tone" carn-patch-find <toned.ppm
done
refused "-s 0" carn-patch-find -s 0 <emre.pam
refused "-s 4" carn-patch-find -s 4 <emre.pam
finish
