#!/usr/bin/env bash
# A row of tone all: a face read whole, by its own skin, the same wherever the box was drawn.
. "$(dirname "$0")/lib.sh"

# The bounds, by name.
apart=0.7 # L* of a singer's tones between two cameras and the ideal one, which have the same light
light=1.0 # L*, and
colour=0.5 # a*, b* by which the middle may move when the box does by 10 %, in 95 of 100

"$SCENE" --list >singers.tsv
mapfile -t singers < <(tail -n +2 singers.tsv | cut -f 1)
printf 'frame\tpatch\ttone\tx\ty\tw\th\n' >top
{ cat top; echo '*	face	all	27.2%	27.3%	45.6%	39.2%'; } >face.tsv
for s in "${singers[@]}"; do
    for camera in north south none; do
        "$SCENE" -s "$s" --camera $camera -w 300 -h 400 --seed 7 -n "$s-$camera.tif" >"$s-$camera.pam"
    done
done
cat ./*-*.pam >all.pam
check "faces are read" carn-sample -p face.tsv <all.pam
cp out readings
[ "$(wc -l <readings)" -eq 109 ] && pass "three rows a face" || fail "three rows a face" "$(wc -l <readings)"
holds "no face of any depth is doubted (light 12, medium 12, deep 12 faces)" 'c["flags"] == "-"' readings
holds "and none is green or of many hues" 'c["greened"] < 1 && c["hue_spread"] > 0.5 && c["hue_spread"] < 4' readings

# By singer and tone: lowest and highest L* over the cameras.
awk -F '\t' -v OFS='\t' 'NR == FNR { d[$1] = $2; next } FNR == 1 { for (i = 1; i <= NF; i++) h[$i] = i; next }
    { split($h["frame"], p, "-"); k = p[1] OFS d[p[1]] OFS $h["tone"]; v = $h["L"]
      if (!(k in low) || v < low[k]) low[k] = v
      if (v > high[k]) high[k] = v }
    END { print "singer", "depth", "tone", "low", "high"; for (k in low) print k, low[k], high[k] }' singers.tsv readings >tones
holds "a singer's tones have one L* under all cameras, within $apart" "c[\"high\"] - c[\"low\"] <= $apart" tones
awk -F '\t' 'FNR > 1 { v = $5 - $4; k = $2; if (v > w[k]) w[k] = v } END { for (k in w) printf "# %s: tones apart by at most %.2f\n", k, w[k] }' tones
awk -F '\t' -v OFS='\t' 'NR == 1 { print "light", "middle", "shade"; next } { v[$1, $3] = $4; s[$1] } END { for (k in s) print v[k, "light"], v[k, "middle"], v[k, "shade"] }' tones >order
holds "light is lighter than middle, shade is darker" 'c["light"] > c["middle"] + 2 && c["middle"] > c["shade"] + 2' order

# ---- the box moved and scaled by a tenth ----
{ cat top; awk 'BEGIN { x = 27.2; y = 27.3; w = 45.6; h = 39.2
    n = split("0 0 1,.1 0 1,-.1 0 1,0 .1 1,0 -.1 1,0 0 .9,0 0 1.1,.07 .07 1,-.07 .07 1", v, ",")
    for (i = 1; i <= n; i++) { split(v[i], a, " "); W = w * a[3]; H = h * a[3]
        printf "*\tv%d\tall\t%.3f%%\t%.3f%%\t%.3f%%\t%.3f%%\n", i, x + w / 2 - W / 2 + a[1] * w, y + h / 2 - H / 2 + a[2] * h, W, H } }'; } >moved.tsv
carn-sample -p moved.tsv <all.pam >moved
awk -F '\t' -v OFS='\t' -v light=$light -v colour=$colour 'function abs(x) { return x < 0 ? -x : x }
    NR == FNR { d[$1] = $2; next } FNR == 1 { for (i = 1; i <= NF; i++) h[$i] = i; next }
    $h["tone"] != "middle" { next }
    $h["patch"] == "v1" { L = $h["L"]; A = $h["a"]; B = $h["b"]; next }
    { split($h["frame"], p, "-"); k = d[p[1]]; n[k]++
      good[k] += abs($h["L"] - L) <= light && abs($h["a"] - A) <= colour && abs($h["b"] - B) <= colour }
    END { print "depth", "count", "share"; for (k in n) print k, n[k], good[k] / n[k] }' singers.tsv moved >shares
holds "the middle stays within $light in L* and $colour in a*, b* in 95 of 100" 'c["share"] >= 0.95' shares
sed 's/^/# /' shares

# ---- points, tilt, orientation ----
s=goro-north
printf 'frame\tpatch\ttone\tx\ty\tw\th\ttilt\tpoints\n*\tface\tall\t10%%\t10%%\t80%%\t80%%\t-\t40.5 40.9 59.5 40.9 50 51.3 50 57.3 25.3 44 74.7 44\n' >points.tsv
carn-sample -p points.tsv <$s.pam >points
grep -F "$s.tif" readings | cat <(head -1 readings) - >own
paste <(cut -f 5,13-15 own) <(cut -f 13-15 points) | sed '1s/.*/tone\tL\ta\tb\tL2\ta2\tb2/' >both
holds "points in place of a good box give the same middle, within 2 in L* and 0.5 in a*, b*" \
    'c["tone"] != "middle" || (abs(c["L"] - c["L2"]) <= 2 && abs(c["a"] - c["a2"]) <= 0.5 && abs(c["b"] - c["b2"]) <= 0.5)' both
pamflip -ccw <$s.pam | sed '1a #@ orientation 6' >turned.pam
carn-sample -p points.tsv <turned.pam 2>/dev/null >turned
paste <(cut -f 5,13-15 points) <(cut -f 13-15 turned) | sed '1s/.*/tone\tL\ta\tb\tL2\ta2\tb2/' >both
holds "a frame stored on its side reads the same" \
    'abs(c["L"] - c["L2"]) <= 0.05 && abs(c["a"] - c["a2"]) <= 0.05 && abs(c["b"] - c["b2"]) <= 0.05' both

# ---- no skin ----
rows() { cat top; printf '%b\n' "$1"; }
rows '*\tshirt\t-\t16%\t90%\t8%\t6%\n*\tshirt2\tall\t10%\t85%\t20%\t14%\n*\tdrop\t-\t3%\t10%\t8%\t10%' >none.tsv
carn-sample -p none.tsv <aino-none.pam >none
holds "a shirt and the backdrop are not-skin, as a patch and as a face" 'c["flags"] ~ /not-skin/' none
rows '*\tshirt\tcard\t16%\t90%\t8%\t6%\n*\tdrop\tbackdrop\t3%\t10%\t8%\t10%' >cards.tsv
carn-sample -p cards.tsv <aino-none.pam >cards
holds "card and backdrop are not asked for skin" 'c["flags"] !~ /not-skin/' cards
holds "patches have no hue_spread and no greened" 'c["hue_spread"] == "-" && c["greened"] == "-"' cards
for s in aino fenna kesi; do
    pamchannel -tupletype GRAYSCALE 1 <$s-none.pam | pamtopnm >$s.pgm
    pgmtoppm '#000000-#e0b080' $s.pgm >$s.sepia.ppm
    pgmtoppm '#000000-#ffffff' $s.pgm >$s.grey.ppm
done
cat {aino,fenna,kesi}.{pgm,sepia.ppm,grey.ppm} | carn-sample -q -p face.tsv 2>/dev/null >toned
holds "sepia and grey faces are not-skin, in colour and in grey frames" 'c["flags"] ~ /not-skin/' toned
[ "$(wc -l <toned)" -eq 28 ] && pass "three rows each" || fail "three rows each" "$(cat toned)"

# ---- the same pixels before and after ----
# A pink face under a yellow fringe: after the turn some of the fringe has the face's colour, and would be counted.
"$SCENE" -s aino --camera south -w 480 -h 640 -n f.tif >f.pam
carn-sample -q -p face.tsv --skin-to skin.pbm <f.pam >first
is "a bitmap of the small picture" "$(pnmfile skin.pbm 2>/dev/null | grep -c 'PBM raw, 384 by 512')" 1
pixels=$(pnmtopnm -plain skin.pbm 2>/dev/null | tail -n +3 | tr -cd 1 | wc -c)
is "black where the face was read: a quarter of it in the middle" "$(awk -v n="$pixels" 'BEGIN { to = .625 * n; printf "%d", (to > int(to) ? int(to) + 1 : to) - int(.375 * n) }')" "$(cell first pixels 2)"
carn-sample -q -p face.tsv --skin skin.pbm --skin-to again.pbm <f.pam >second
same "read again at these pixels it reads the same" first second
same "and writes the same bitmap" skin.pbm again.pbm
carn-curve-solve first 2>/dev/null >skin.curve
carn-skin-weight -r first -p face.tsv <f.pam | carn-curve-apply -c skin.curve >turned.pam
carn-sample -q -p face.tsv <turned.pam | paste first - | awk -F '\t' -v OFS='\t' 'NR == 1 { print "d"; for (i = 1; i <= NF; i++) if ($i == "L") at[++n] = i; next } { print $at[1] - $at[2] }' >found.d
carn-sample -q -p face.tsv --skin skin.pbm <turned.pam | paste first - | awk -F '\t' -v OFS='\t' 'NR == 1 { print "d"; for (i = 1; i <= NF; i++) if ($i == "L") at[++n] = i; next } { print $at[1] - $at[2] }' >known.d
holds "a turned face has its L* tone by tone, within 0.02" 'abs(c["d"]) < 0.02' known.d
awk 'NR > 1 && ($1 > .1 || $1 < -.1) { n++ } END { exit !n }' found.d && pass "which it would not, its skin found anew" || fail "which it would not, its skin found anew" "$(cat found.d)"
refused "bitmaps of another size" carn-sample -q -p face.tsv --skin skin.pbm <aino-none.pam
cat f.pam f.pam >ff.pam
carn-sample -q -p face.tsv --skin skin.pbm --skin-to no.pbm <ff.pam >out 2>err
is "a bitmap too few is trouble" "$? $(grep -c 'fewer bitmaps than there are faces' err)" "2 1"
[ ! -e no.pbm ] && pass "and leaves no bitmaps" || fail "and leaves no bitmaps"
refused "bitmaps that are not there" carn-sample -q -p face.tsv --skin nowhere.pbm <f.pam
refused "bitmaps for a folder that is not there" carn-sample -q -p face.tsv --skin-to nowhere/skin.pbm <f.pam

# ---- rows ----
cp aino-none.pam x.pam
rows '*\tface\tall\t0.27\t0.27\t0.46\t0.4' >small.tsv
carn-sample -p small.tsv <x.pam >out 2>err
grep -q "note: patch 'face' of line 2 has x, y, w and h under 1 pixel" err && pass "0.38 for 38% is noted" || fail "0.38 for 38% is noted" "$(cat err)"
rows '*\tface\tall\t-20%\t-30%\t80%\t90%' >edge.tsv
check "a face may reach over the edges" carn-sample -p edge.tsv <x.pam
rows '*\tface\tall\t-60%\t0\t80%\t90%' >edge.tsv
refused "but not with its middle" carn-sample -p edge.tsv <x.pam
rows '*\tface\tmiddle\t-1%\t0\t80%\t90%' >edge.tsv
refused "nor a patch" carn-sample -p edge.tsv <x.pam
sed 's| 44$||' points.tsv >eleven.tsv
refused "eleven numbers are not six points" carn-sample -p eleven.tsv <x.pam
sed 's/%\t-\t/%\t400\t/' points.tsv >tilt.tsv
refused "a tilt of 400 degrees" carn-sample -p tilt.tsv <x.pam
finish
