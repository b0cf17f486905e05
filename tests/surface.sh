#!/usr/bin/env bash
# carn-surface: waves of known power through the program, grain on cards, and the scenes, where the
# south camera keeps less fine detail. (tests/bands.c has the bank itself.)
. "$(dirname "$0")/lib.sh"
printf 'frame\tpatch\tx\ty\tw\th\n*\tall\t0\t0\t100%%\t100%%\n' >p.tsv

# wave PERIODS HEIGHT-OF-L NOISE-OF-L: 128 x 96 pixels of grey about L* 60, 16 bit, untagged (sRGB).
wave() {
    colours 'BEGIN { srand(5); print "P2 128 96 65535"
        for (y = 0; y < 96; y++) for (x = 0; x < 128; x++) {
            n = -6; for (i = 0; noise && i < 12; i++) n += rand()
            L = 60 + height * sin(6.283185307 * k * (x + .5) / 128 + .4) + noise * n
            print int(code(lab_back((L + 16) / 116)) + rand()) } }' -v k="$1" -v height="$2" -v noise="$3" |
        pamtopnm | carn-decode - 2>/dev/null
}
# Where the edges cut a wave, power leaks to other bands, most where few periods fit.
for case in "3 rms_L_2 0.09" "5.5 rms_L_4 0.05" "11 rms_L_8 0.03" "23 rms_L_16 0.03" "47 rms_L_32 0.03"; do
    read -r k band leak <<<"$case"
    wave "$k" 2 0 | carn-surface -p p.tsv >s 2>/dev/null
    holds "$k periods of height 2 are 1.414 less at most $leak of it in $band" "abs(c[\"$band\"] / 1.4142 - 1) < $leak && c[\"grain_L\"] < 0.12" s
done
wave 11 0.8 1 | carn-surface -p p.tsv >s 2>/dev/null
holds "under grain of 1, a wave of 0.8 is 0.566 within 0.06, the grain 1 within 0.05" 'abs(c["rms_L_8"] - 0.5657) < 0.06 && abs(c["grain_L"] - 1) < 0.05' s
wave 11 0 1 | carn-surface -p p.tsv >s 2>/dev/null
holds "grain alone leaves under a quarter of itself as detail" 'c["detail"] < 0.25 && c["mottle_a"] < 0.02' s

# Bands are of the width as it is seen, in whatever way the picture is stored, and tiles and squares of a wide
# patch lie alike.
turns=("" "-null" "-leftright" "-rotate180" "-topbottom" "-transpose" "-rotate90" "-xform=transpose,leftright,topbottom" "-rotate270")
printf 'frame\tpatch\tx\ty\tw\th\n*\twide\t2\t3\t300\t150\n*\tsmall\t5\t7\t70\t100\n' >both.tsv
"$SCENE" -s emre -w 310 -h 160 -n x.tif >x.pam
carn-surface -p both.tsv <x.pam >upright.s
holds "a patch is as wide as it is seen" 'c["patch"] == "wide" ? c["width"] == 300 && c["height"] == 150 : c["width"] == 70' upright.s
for o in 2 3 4 5 6 7 8; do
    { head -n 1 x.pam && grep -a '^#@' x.pam | sed "1i #@ orientation $o" && pamflip "${turns[o]}" x.pam | tail -n +2; } >turned.pam
    carn-surface -p both.tsv <turned.pam >turned.s 2>err
    # Sums in another order differ in the last decimal.
    if paste upright.s turned.s | awk -F '\t' 'NR > 1 { for (i = 6; i <= NF / 2; i++) { d = $i - $(i + NF / 2); n++; bad += d > 0.0003 || d < -0.0003 } } END { exit bad || n != 58 }'; then
        pass "orientation $o: the same surface"; else fail "orientation $o: the same surface" "$(cat upright.s turned.s err)"; fi
done

# A strip less high than a 64th of its width has squares too; without them what was printed came from beyond them.
awk 'BEGIN { print "P2 1200 16 255"; for (i = 0; i < 1200 * 16; i++) print 40 + int(i % 1200 / 8) }' | pamtopnm | carn-surface -p p.tsv >s 2>err
# Codes run from 40 to 190: 2 % of the strip are over 187, which is L* 75.9.
holds "a strip has its lights" 'abs(c["highlight_L"] - 75.9) < 0.6 && c["shoulder"] != "-"' s

# Roll-off: a ramp runs alike, one under a shoulder is compressed and loses colour.
ramp() { # SHOULDER
    awk -v s="$1" 'BEGIN { print "P3 128 64 65535"; for (y = 0; y < 64; y++) for (x = 0; x < 128; x++) {
        t = x / 127; v = s ? .55 + .25 * (t < .5 ? t : .5 + (t - .5) * .3) : .55 + .25 * t
        print int(65535 * v), int(65535 * (v - (s && t > .5 ? .12 * (1.2 - t) : .12))), int(65535 * (v - (s && t > .5 ? .2 * (1.2 - t) : .2))) } }' |
        pamtopnm | carn-decode - 2>/dev/null | carn-surface -p p.tsv 2>/dev/null
}
ramp 0 >straight
ramp 1 >bent
holds "a ramp runs alike on both sides" 'abs(c["shoulder"] - 1) < 0.1 && abs(c["highlight_chroma_slope"]) < 0.25' straight
holds "under a shoulder lights are compressed and lose colour" 'c["shoulder"] < 0.6 && c["highlight_chroma_slope"] < -0.5' bent

# The scenes: every singer, both cameras.
"$SCENE" --list >singers.tsv
tail -n +2 singers.tsv | while IFS=$'\t' read -r singer _; do
    "$SCENE" -w 640 -h 853 -s "$singer" --card -n x.tif --patches >q.tsv
    for camera in north south; do
        "$SCENE" -w 640 -h 853 -s "$singer" --camera $camera --card -n x.tif >x.pam
        carn-surface -q -p q.tsv <x.pam | awk -F '\t' -v OFS='\t' -v s="$singer" -v c=$camera 'NR > 1 { $2 = s; $3 = c } { print }' >>rows
        carn-sample -q -p q.tsv <x.pam | awk -F '\t' -v OFS='\t' -v s="$singer" -v c=$camera 'NR > 1 { $2 = s; $3 = c } { print }' >>readings.rows
    done
done
awk 'NR == 1 || !/^frame\t/' rows >surface.tsv
awk 'NR == 1 || !/^frame\t/' readings.rows >readings.tsv
figures=$(awk -F '\t' 'NR == FNR { depth[$1] = $2; next } FNR == 1 { for (i = 1; i <= NF; i++) h[$i] = i; next }
    $h["tone"] == "card" { if ($h["detail"] > card) card = $h["detail"]; next }
    $h["tone"] == "backdrop" || $h["rms_L_8"] == "-" { next }
    { k = depth[$2]; v = $h["rms_L_8"]; n[k, $3]++; sum[k, $3] += v; if (!(k in least) || v < least[k]) least[k] = v }
    END { good = card > 0
        for (i = split("light medium deep", d, " "); i > 0; i--) { k = d[i]; r = sum[k, "south"] / sum[k, "north"]
            printf "%s: south %.2f of north over %d and %d patches, least %.3f; ", k, r, n[k, "south"], n[k, "north"], least[k]
            good = good && n[k, "north"] >= 20 && r < 0.75 }
        printf "card %.3f", card; exit !good }' singers.tsv surface.tsv)
if [ $? -eq 0 ]; then pass "south keeps less fine detail at every depth: $figures"; else fail "south keeps less fine detail at every depth: $figures"; fi
carn-compare -s surface.tsv readings.tsv >table 2>/dev/null
words=$(tail -n 1 table | cut -f 9)
if [[ $words =~ south\ keeps\ [345][0-9]\ %\ less\ fine\ detail ]]; then pass "the compare table says so: $words"; else fail "the compare table says so: $words"; fi
awk -F '\t' -v OFS='\t' '$3 == "north" { $3 = "south"; print; next } $3 == "south" { $3 = "north" } { print }' surface.tsv >swapped.tsv
words=$(carn-compare -s swapped.tsv readings.tsv | tail -n 1 | cut -f 9)
if [[ $words =~ north\ keeps\ [345][0-9]\ %\ less\ fine\ detail ]]; then pass "and swaps with the rows"; else fail "and swaps with the rows: $words"; fi

# Turned frames: the patch follows.
"$SCENE" -w 240 -h 320 -n a.tif >one.pam
"$SCENE" -w 240 -h 320 -n a.tif --patches | sed -n '1p; /backdrop/p' >b.tsv
check "a frame" carn-surface -p b.tsv <one.pam
cp "$T/out" first
carn-surface -p b.tsv <one.pam >second
same "the same bytes again" first second
cat one.pam one.pam | carn-surface -p b.tsv >twice
is "two frames, two rows" "$(wc -l <twice)" 3
carn-blur-average -s 2 <one.pam >soft.pam
refused "a smoothed frame" carn-surface -p b.tsv <soft.pam
says "and why" 'smoothed \(gaussian 2\)'
cat soft.pam one.pam >mixed.pam
status 2 "the others go on" carn-surface -p b.tsv <mixed.pam
is "with their rows" "$(wc -l <"$T/out")" 2
printf 'frame\tpatch\tx\ty\tw\th\n*\ttiny\t0\t0\t8\t8\n' >tiny.tsv
refused "a patch too small" carn-surface -p tiny.tsv <one.pam
says "with its size" "'tiny' has 8 x 8 pixels"
refused "no patches" carn-surface <one.pam
refused "an operand" carn-surface -p b.tsv one.pam
refused "an operand, and no patches" carn-surface x
finish
