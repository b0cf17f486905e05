#!/usr/bin/env bash
# How far each pixel is skin, and that only skin moves: scenes of known truth, every singer under
# both cameras, measured at what has to stay and what has to move.
. "$(dirname "$0")/lib.sh"

# The bounds, by name.
still=0.5    # CIEDE2000 of card and backdrop, neutral step to delivered
cloth=1.0    # the same of a white shirt
ratio=0.03   # M/C about 2
yellow=0.02  # Y/M about 1.25
smooth=7     # CIE76 by which a step of under 5 between neighbours may grow, at 200 x 266 pixels (lips)
often=0.002  # share of such steps that may grow by over 2
sharp=13     # CIE76 by which a larger step may grow: skin ends there, and its move with it
half=0.5     # of the weight of skin, at most, for the same when a face's tones were read
far=0.3      # the weight of wood and brick, at most, where faces are known
less=0.97    # of the weight of skin, at most, for what is like it but is not skin, mean by depth

"$SCENE" --list >singers.tsv
mapfile -t singers < <(tail -n +2 singers.tsv | cut -f 1)
scene() { "$SCENE" -w 300 -h 400 "$@"; }
more='x.tif	shirt	backdrop	16%	90%	8%	6%'

# ---- only skin moves ----
for camera in north south; do
    scene -s emre --camera $camera --card -n x.tif >card.pam
    scene -s emre --camera $camera --card -n x.tif --patches >card.tsv
    carn-sample -q -p card.tsv <card.pam | carn-curve-neutral >$camera.curve 2>/dev/null
done
correct() { # SINGER CAMERA: rows of carn-differ and of the scored patch
    local s=$1 camera=$2 at=$1.$2
    scene -s "$s" --camera "$camera" --card -n x.tif | carn-curve-apply -c "$camera.curve" 2>/dev/null >"$at.pam"
    scene -s "$s" --camera "$camera" --card -n x.tif --patches | awk -F '\t' 'NR == 1 || $2 == "forehead" || $3 ~ /card|backdrop/' >"$at.tsv"
    echo "$more" >>"$at.tsv"
    carn-sample -q -p "$at.tsv" <"$at.pam" >"$at.before"
    carn-curve-solve "$at.before" >"$at.skin"
    carn-skin-weight -r "$at.before" <"$at.pam" | carn-curve-apply -c "$at.skin" | carn-sample -q -p "$at.tsv" >"$at.after"
    carn-curve-apply -c "$at.skin" <"$at.pam" | carn-sample -q -p "$at.tsv" >"$at.whole"
    for how in after whole; do
        carn-differ "$at.before" "$at.$how" 2>/dev/null | tsv -v OFS='\t' -v s="$s" -v camera="$camera" -v how=$how '
            $h["patch"] != "*" && $h["patch"] != "forehead" { print s, camera, how, $h["patch"], $h["ciede2000"] }' >>"$at.moved"
    done
    carn-score "$at.after" 2>/dev/null | tsv -v OFS='\t' -v s="$s" -v camera="$camera" '
        $h["patch"] == "forehead" { print s, camera, $h["magenta_by_cyan"], $h["yellow_by_magenta"], $h["cyan"] }' >"$at.ratios"
}
for s in "${singers[@]}"; do
    correct "$s" north & correct "$s" south
    wait
done
{ printf 'singer\tcamera\thow\tpatch\tfar\n'; cat ./*.moved; } >moved
{ printf 'singer\tcamera\tmc\tym\tcyan\n'; cat ./*.ratios; } >ratios
worst() { awk -F '\t' -v how="$1" -v p="$2" 'NR == FNR { d[$1] = $2; next } $3 == how && $4 == p { k = d[$1]; n[k]++; if ($5 > w[k]) w[k] = $5 }
    END { printf "light %d worst %.2f, medium %d worst %.2f, deep %d worst %.2f", n["light"], w["light"], n["medium"], w["medium"], n["deep"], w["deep"] }' singers.tsv moved; }
for patch in card backdrop shirt; do
    bound=$still
    [ $patch != shirt ] || bound=$cloth
    awk -F '\t' -v p=$patch 'NR == 1 || ($3 == "after" && $4 == p)' moved >rows
    holds "$patch stays within CIEDE2000 $bound: $(worst after $patch)" "c[\"far\"] <= $bound" rows
    printf '# without the weight: %s\n' "$(worst whole $patch)"
done
holds "M/C 2.00 +-$ratio and Y/M 1.25 +-$yellow where cyan is 12 % and more: $(awk -F '\t' 'NR == FNR { d[$1] = $2; next } $5 >= 12 { n[d[$1]]++ } END { printf "light %d, medium %d, deep %d", n["light"], n["medium"], n["deep"] }' singers.tsv ratios)" \
    "c[\"cyan\"] < 12 || (abs(c[\"mc\"] - 2) <= $ratio && abs(c[\"ym\"] - 1.25) <= $yellow)" ratios

# ---- no visible edge ----
# Two frames side by side, as text: by how much the step to the next pixel grew, across and down.
cat >steps.awk <<'A'
function lin(v) { v /= 65535; return v <= .04045 ? v / 12.92 : ((v + .055) / 1.055)^2.4 }
function lab(i, r, g, b,  x, y, z) { # sRGB to CIELAB D50
    r = lin(r); g = lin(g); b = lin(b)
    x = lab_f((.4360747 * r + .3850649 * g + .1430804 * b) / .9642); y = lab_f(.2225045 * r + .7168786 * g + .0606169 * b)
    z = lab_f((.0139322 * r + .0971045 * g + .7141733 * b) / .8249)
    L[i] = 116 * y - 16; A[i] = 500 * (x - y); B[i] = 200 * (y - z)
}
function step(i, j) { return sqrt((L[i] - L[j])^2 + (A[i] - A[j])^2 + (B[i] - B[j])^2) }
FNR == 1 { file++; n = 0; next } # the header of a plain PPM takes three lines
FNR == 2 { W = $1; next }
FNR == 3 { next }
{
    for (k = 1; k <= NF; k++) {
        v[++m] = $k
        if (m < 3) continue
        m = 0; slot = n % W
        lab("now", v[1], v[2], v[3])
        if (n % W > 0) meet(n * 2, "left")
        if (n >= W) meet(n * 2 + 1, slot)
        L[slot] = L["left"] = L["now"]; A[slot] = A["left"] = A["now"]; B[slot] = B["left"] = B["now"]
        n++
    }
}
function meet(key, other,  d) {
    d = step("now", other)
    if (file == 1) before[key] = d
    else if (before[key] < 5) { all++; if (d - before[key] > soft) soft = d - before[key]; if (d - before[key] > 2) many++ }
    else if (d - before[key] > hard) hard = d - before[key]
}
END { printf "%.2f %.2f %.5f\n", soft, hard, many / all }
A
plain() { pamchannel -tupletype RGB 0 1 2 | pamtopnm -plain; }
for s in aino emre lamin; do
    for camera in north south; do
        (scene -w 200 -h 266 -s $s --camera $camera --grain 0 --scarf --door -n x.tif | carn-curve-apply -c $camera.curve 2>/dev/null >edge.$s.$camera
            carn-skin-weight -r $s.$camera.before <edge.$s.$camera | carn-curve-apply -c $s.$camera.skin | plain >after.$s.$camera
            plain <edge.$s.$camera >before.$s.$camera
            awk -f "$TOP/tests/colour.awk" -f steps.awk before.$s.$camera after.$s.$camera | sed "s/^/$s $camera /" >steps.$s.$camera) &
    done
    wait
done
{ echo singer camera soft hard share; cat steps.*.*; } | tr ' ' '\t' >steps
holds "no new edge: steps under 5 grow by at most $smooth, over 2 in a share of $often, others by $sharp" \
    "c[\"soft\"] <= $smooth && c[\"share\"] <= $often && c[\"hard\"] <= $sharp" steps
sed 's/^/# /' steps

# ---- what weighs how much ----
# The weights of a frame as a grey frame, whose readings in column red are mean weights.
cat >things <<'T'
frame	patch	tone	x	y	w	h
*	forehead	-	46%	32%	8%	4%
*	jaw	-	42%	61%	10%	2%
*	lips	-	46%	57.4%	5%	1%
*	hair	-	42%	17%	10%	6%
*	scarf	-	40%	70%	10%	4%
*	shirt	-	16%	90%	8%	6%
*	wood	-	82%	5%	12%	5%
*	drop	-	3%	30%	8%	10%
T
sed 's/wood\t.*/brick\t-\t76%\t1%\t20%\t12%/; /drop/d' things >walls
weigh() { # SINGER CAMERA BACK PATCHES [-r READINGS]: patch and mean weight of each thing
    local s=$1 camera=$2 back=$3 patches=$4
    shift 4
    scene -s "$s" --camera "$camera" --scarf "--$back" -n x.tif | carn-curve-apply -c "$camera.curve" 2>/dev/null |
        carn-skin-weight "$@" | pamchannel -tupletype GRAYSCALE 3 | carn-sample -p "$patches" 2>/dev/null |
        tsv -v OFS='\t' -v s="$s" -v camera="$camera" -v how="${1:-none}" '{ print s, camera, how, $h["patch"], $h["red"] }'
}
for s in aino celia emre hedda kesi lamin; do
    for camera in north south; do
        for back in door brick; do
            patches=$([ $back = door ] && echo things || echo walls)
            { weigh $s $camera $back "$patches"; weigh $s $camera $back "$patches" -r $s.$camera.before; } >weights.$s.$camera.$back &
        done
        wait
    done
done
{ printf 'singer\tcamera\thow\tpatch\tweight\n'; cat weights.*; } >weights
# by_depth WEIGHTS: means by depth and way, a row a thing.
by_depth() {
    awk -F '\t' -v OFS='\t' 'NR == FNR { d[$1] = $2; next } FNR == 1 { next }
        { k = d[$1] OFS $3 OFS $4; n[k]++; sum[k] += $5; if ($5 > most[k]) most[k] = $5 }
        END { print "depth", "how", "thing", "frames", "mean", "most", "skin"; fflush()
            for (k in n) { split(k, part, OFS); s = part[1] OFS part[2] OFS "forehead"; print k, n[k], sum[k] / n[k], most[k] + 0, sum[s] / n[s] | "sort" } }' \
        singers.tsv "$1"
}
by_depth weights >means
holds "with readings the measured skin weighs in full" 'c["how"] != "-r" || c["thing"] != "forehead" || c["mean"] > 0.9999' means
holds "and so does the jaw" 'c["how"] != "-r" || c["thing"] != "jaw" || c["mean"] >= 0.98' means
holds "without readings skin weighs nearly in full" 'c["thing"] !~ /forehead|jaw/ || c["mean"] >= 0.85' means
holds "shirt and backdrop weigh nothing" 'c["thing"] !~ /shirt|drop/ || c["most"] <= 0.002' means
holds "lips, hair, scarf, wood and brick weigh less than skin" "c[\"thing\"] !~ /lips|hair|scarf|wood|brick/ || c[\"mean\"] <= $less * c[\"skin\"]" means
sed 's/^/# /' means

# ---- with the tones of faces ----
# Scenes with a seed of their own; weights of things with readings alone and with the face's place.
printf 'frame\tpatch\ttone\tx\ty\tw\th\n*\tface\tall\t27.2%%\t27.3%%\t45.6%%\t39.2%%\n' >face.tsv
weigh_face() { # SINGER CAMERA BACK PATCHES
    local s=$1 camera=$2 back=$3 patches=$4 at=face.$1.$2.$3
    scene -s "$s" --camera "$camera" --scarf "--$back" --seed 5 -n x.tif | carn-curve-apply -c "$camera.curve" >"$at.pam" 2>/dev/null
    carn-sample -q -p face.tsv <"$at.pam" >"$at.readings"
    for how in readings places; do
        [ $how = places ] && set -- -p face.tsv || set --
        carn-skin-weight -r "$at.readings" "$@" <"$at.pam" | pamchannel -tupletype GRAYSCALE 3 | carn-sample -q -p "$patches" 2>/dev/null |
            tsv -v OFS='\t' -v s="$s" -v camera="$camera" -v how=$how '{ print s, camera, how, $h["patch"], $h["red"] }'
    done
}
for s in aino celia emre hedda imani lamin; do
    for back in door brick; do
        patches=$([ $back = door ] && echo things || echo walls)
        weigh_face $s north $back "$patches" >weighed.$s.north.$back & weigh_face $s south $back "$patches" >weighed.$s.south.$back
        wait
    done
done
{ printf 'singer\tcamera\thow\tpatch\tweight\n'; cat weighed.*; } >weighed
by_depth weighed >meant
holds "skin weighs in full with the tones of its face" 'c["thing"] !~ /forehead|jaw/ || c["mean"] >= 0.98' meant
holds "lips, hair, scarf, wood and brick weigh at most $half of skin" "c[\"thing\"] !~ /lips|hair|scarf|wood|brick/ || c[\"mean\"] <= $half * c[\"skin\"]" meant
holds "and where faces are known wood and brick $far" "c[\"how\"] != \"places\" || c[\"thing\"] !~ /wood|brick/ || c[\"most\"] <= $far" meant
holds "shirt and backdrop still weigh nothing" 'c["thing"] !~ /shirt|drop/ || c["most"] <= 0.002' meant
sed 's/^/# /' meant

# ---- two persons of nearly one colour ----
printf 'frame\tpatch\ttone\tx\ty\tw\th\n*\ta\tall\t13.8%%\t27.3%%\t45.7%%\t39.2%%\n*\tb\tall\t58.9%%\t23.7%%\t38.3%%\t32.8%%\n' >two.tsv
printf 'frame\tpatch\ttone\tx\ty\tw\th\n*\ta\t-\t34%%\t45%%\t6%%\t6%%\n*\tb\t-\t76%%\t39%%\t5%%\t5%%\n' >noses
scene -s aino --with birk -n x.tif >two.pam
carn-sample -q -p two.tsv <two.pam >two.readings
nose() { carn-skin-weight -r two.readings -p two.tsv "$@" <two.pam | pamchannel -tupletype GRAYSCALE 3 | carn-sample -q -p noses 2>/dev/null; }
nose >both; nose --patch a >first; nose --patch b >second
holds "both are skin" 'c["red"] > 0.98' both
holds "of one alone the other is none" '(c["patch"] == "a") == (c["red"] > 0.95) && (c["patch"] == "b") == (c["red"] < 0.05)' first
holds "and the other way round" '(c["patch"] == "b") == (c["red"] > 0.95) && (c["patch"] == "a") == (c["red"] < 0.05)' second
refused "a patch that was not read" carn-skin-weight -r two.readings --patch c <two.pam
refused "--patch without readings" carn-skin-weight --patch a <two.pam

# ---- the stream ----
scene -s jomo --camera north -n x.tif >x.pam
carn-skin-weight -r jomo.north.before <x.pam >w.pam
cat x.pam x.pam | carn-skin-weight -r jomo.north.before >two.pam
cat w.pam w.pam | cmp -s - two.pam && pass "two frames are one and one" || fail "two frames are one and one"
pamchannel -tupletype RGB 0 1 2 <w.pam >back.pam
pamchannel -tupletype RGB 0 1 2 <x.pam | cmp -s - back.pam && pass "the colours pass unchanged" || fail "the colours pass unchanged"
[ "$(head -c 300000 w.pam | grep -a -m 1 TUPLTYPE)" = "TUPLTYPE RGB_WEIGHT" ] && pass "the plane is called RGB_WEIGHT" || fail "the plane is called RGB_WEIGHT"
{ carn-weight-show <w.pam | pamtopnm; pamchannel -tupletype RGB 0 1 2 <w.pam | carn-weight-show 2>note | pamtopnm; } >shown
{ pamchannel -tupletype GRAYSCALE 3 <w.pam | pamtopnm; pamchannel -tupletype GRAYSCALE 0 <w.pam | pamfunc -multiplier=0 | pnminvert; } >planes
same "the weight as a picture; without one all counts" planes shown
carn-skin-weight -r jomo.north.before <w.pam | pamchannel -tupletype GRAYSCALE 3 | pamtopnm -plain >twice
pamchannel -tupletype GRAYSCALE 3 <w.pam | pamtopnm -plain >once
paste -d ' ' <(tail -n +4 once | tr -s ' ' '\n' | grep .) <(tail -n +4 twice | tr -s ' ' '\n' | grep .) |
    awk '{ d = $2 - int($1 * $1 / 65535); if (d > 1 || d < -1) bad++ } END { exit !NR || bad > 0 }' &&
    pass "a weight that is there already limits ours" || fail "a weight that is there already limits ours"
printf 'P7\nWIDTH 2\nHEIGHT 1\nDEPTH 4\nMAXVAL 255\nTUPLTYPE RGB_ALPHA\nENDHDR\n\310\226\170\377\200\200\200\200' | carn-skin-weight 2>/dev/null >a.pam
[ "$(grep -a -m 1 TUPLTYPE a.pam)" = "TUPLTYPE RGB_ALPHA_WEIGHT" ] && [ "$(tail -c 20 a.pam | od -An -v -w10 -tu2 --endian=big | awk '$4 == (NR == 1 ? 65535 : 32896) { n++ } NR == 2 && $5 == 0 { n++ } END { print n }')" = 3 ] &&
    pass "alpha stays before the weight" || fail "alpha stays before the weight" "$(tail -c 20 a.pam | od -An -tu2 --endian=big)"
printf 'P5\n2 2\n255\nabcd' >grey.pgm
refused "a grey frame" carn-skin-weight <grey.pgm
refused "readings from standard input" carn-skin-weight -r - <x.pam
refused "readings without skin" carn-skin-weight -r <(grep -E $'^frame|\tcard\t' jomo.north.before) <x.pam
check "readings of another frame" carn-skin-weight -r <(sed 's/^x.tif\tjomo/other.tif\tmari/' jomo.north.before) <x.pam
says "are used with a note" "note: x.tif: no reading is of this frame or its subject, all 1 serve"
same "and do the same" out w.pam
check "a frame of one pixel" carn-skin-weight < <(printf 'P6\n1 1\n255\n\310\226\170')

# Inside a face and its ears, skin that is redder (by 17 degrees here) counts, an eye and what lies beside do not,
# and the mouth counts 0.45, which the stretch makes 0.46.
ppmmake rgb:be/80/77 400 400 >flushed.ppm
printf 'frame\tpatch\ttone\tx\ty\tw\th\tpoints\nflushed.ppm\tface\tall\t100\t60\t200\t280\t40 45 60 45 50 56.25 50 65 23.75 48 76.25 48\n' >face.tsv
printf 'frame\tpatch\ttone\tL\ta\tb\tspread\thue_spread\nflushed.ppm\tface\t%s\t2\t2\n' $'light\t68\t17.1\t20.4' >read.tsv
printf 'flushed.ppm\tface\t%s\t2\t2\n' $'middle\t60\t18\t21.45' $'shade\t48\t16\t19' >>read.tsv
carn-decode flushed.ppm 2>/dev/null | carn-skin-weight -r read.tsv -p face.tsv 2>/dev/null | carn-weight-show | carn-encode flushed.pgm
# at X Y: the weight there, 0 to 255.
at() { pnmcut -left "$1" -top "$2" -width 1 -height 1 flushed.pgm 2>/dev/null | pnmtoplainpnm | tail -n 1; }
is "whole on cheek and ears, none on an eye, 0.46 on the mouth, none beside the ear and under the chin" \
    "$(for place in "150 225" "330 192" "70 192" "160 172" "200 260" "355 192" "200 390"; do at "${place% *}" "${place#* }"; done | tr -s '\n ' ' ')" "255 255 255 0 116 0 0 "
# An ear's half axes are 0.45 and 0.75 of the distance from the eyes to the mouth.
awk -v w="$(at 345 192)" -v h="$(at 305 258)" 'BEGIN { exit !(w > 20 && w < 70 && h > 70 && h < 170) }' && pass "ears are as large as they should be ($(at 345 192), $(at 305 258))" ||
    fail "ears are as large as they should be" "$(at 345 192) $(at 305 258)"
# Beside a face, down to the chin, skin's colour counts 0.4, since it may be hair; ears, neck and shoulders count in full.
ppmmake rgb:b7/84/6b 400 400 | pnmtopng >even.png
sed 's/flushed.ppm/even.png/' face.tsv >even.tsv
sed 's/flushed.ppm/even.png/' read.tsv >even.read
carn-decode even.png 2>/dev/null | carn-skin-weight -r even.read -p even.tsv 2>/dev/null | carn-weight-show | carn-encode -f flushed.pgm
is "0.4 beside the face, whole on the ear, on the head and under the chin" \
    "$(for place in "40 100" "20 192" "40 240" "80 192" "200 60" "40 390"; do at "${place% *}" "${place#* }"; done | tr -s '\n ' ' ')" "102 102 102 255 255 255 "
# Where the 0.4 begins beside the face, and where it ends under the chin.
awk -v side="$(at 60 280)" -v under="$(at 40 320)" 'BEGIN { exit !(side > 105 && side < 140 && under > 115 && under < 150) }' && pass "it begins and ends where it should ($(at 60 280), $(at 40 320))" ||
    fail "it begins and ends where it should" "$(at 60 280) $(at 40 320)"
finish
