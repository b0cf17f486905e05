#!/usr/bin/env bash
# CIELAB to inks against an independent colour engine, argyll's xicclu (Debian argyll), and what a
# separation that prints skin with black is told.
. "$(dirname "$0")/lib.sh"
profile=$TOP/lib/data/coated-late-black.icc
engine() { xicclu -v0 -ir -s100 "$@" | awk '{ print $1, $2, $3, $4 }'; }

# 500 skin colours, L* 30 to 88, chroma 10 to 38, hue 35 to 75 degrees, as patches of 8 x 8 pixels
# of an sRGB picture.
colours 'BEGIN { srand(7); print "P3 200 160 65535"
    for (i = 0; i < 500; i++) {
        L = 30 + 58 * rand(); C = 10 + 28 * rand(); h = (35 + 40 * rand()) * 3.14159265 / 180
        p[i] = srgb(L, C * cos(h), C * sin(h))
    }
    for (r = 0; r < 160; r++) for (c = 0; c < 200; c++) print p[int(r / 8) * 25 + int(c / 8)] }' |
    pamtopnm >"$T/skin.ppm"
{
    printf 'frame\tpatch\tx\ty\tw\th\n'
    # shellcheck disable=SC2017 # rows of 25
    for i in $(seq 0 499); do printf '*\tp%d\t%d\t%d\t8\t8\n' "$i" $((i % 25 * 8)) $((i / 25 * 8)); done
} >"$T/patches.tsv"

# close NAME READINGS INKS: median within 0.3 %, 95 % within 1.5 % of ink.
close() {
    local figures
    figures=$(tsv '{ print $h["cyan"], $h["magenta"], $h["yellow"], $h["black"] }' "$2" | paste -d ' ' - "$3" |
        awk '{ for (i = 1; i <= 4; i++) { d = $i - $(i + 4); print d < 0 ? -d : d } }' | sort -g |
        awk '{ d[NR] = $1 } END { printf "%d values, median %.3f, 95 %% within %.3f", NR, d[int(NR / 2)], d[int(NR * .95)]
            exit !(NR == 2000 && d[int(NR / 2)] <= 0.3 && d[int(NR * .95)] <= 1.5) }')
    if [ $? -eq 0 ]; then pass "$1: $figures"; else fail "$1: $figures"; fi
}
lab() {
    tsv '{ print $h["L"], $h["a"], $h["b"] }' "$1"
}

carn-decode "$T/skin.ppm" | tee "$T/frames" | carn-sample -B -p "$T/patches.tsv" >"$T/plain.tsv" 2>/dev/null
lab "$T/plain.tsv" | engine -fb -pl "$profile" >"$T/plain.inks"
close "inks without black-point compensation as xicclu" "$T/plain.tsv" "$T/plain.inks"

# The same table read in numpy (tests/inks.py) gives the same inks, and xicclu's by one of two ways between its nodes.
# apart FIRST SECOND: the largest difference of two tables of numbers.
apart() { paste -d ' ' "$1" "$2" | awk '{ for (i = 1; i <= 4; i++) { d = $i - $(i + 4); if (d < 0) d = -d; if (d > most) most = d } } END { printf "%.3f", most }'; }
if /usr/bin/python3 -c 'import numpy' 2>/dev/null; then
    lab "$T/plain.tsv" | "$TOP/tests/inks.py" "$profile" >"$T/tetrahedral.inks"
    lab "$T/plain.tsv" | "$TOP/tests/inks.py" "$profile" trilinear >"$T/trilinear.inks"
    tsv '{ print $h["cyan"], $h["magenta"], $h["yellow"], $h["black"] }' "$T/plain.tsv" >"$T/ours.inks"
    most=$(apart "$T/ours.inks" "$T/tetrahedral.inks")
    # Four decimals of CIELAB are 0.02 % of ink where the table is steepest.
    awk '{ exit $1 > 0.05 }' <<<"$most" && pass "tetrahedral, within 0.05 % of ink of numpy: $most" || fail "tetrahedral, within 0.05 % of ink of numpy" "$most"
    one=$(apart "$T/plain.inks" "$T/tetrahedral.inks") other=$(apart "$T/plain.inks" "$T/trilinear.inks")
    awk '{ exit $1 > 0.001 && $2 > 0.001 }' <<<"$one $other" && pass "xicclu is $one from the tetrahedral way, $other from the trilinear one" ||
        fail "xicclu is tetrahedral or trilinear" "$one $other"
else
    skip "the table read in numpy" "no numpy"
fi

black=$(echo 0 0 0 | engine -fb -pl "$profile" | engine -ff -pl "$profile" | awk '{ print $1 }')
carn-sample -p "$T/patches.tsv" <"$T/frames" >"$T/bpc.tsv" 2>/dev/null
lab "$T/bpc.tsv" | colours '{ print compensated($1, $2, $3, black) }' -v black="$black" |
    engine -fb -pl "$profile" >"$T/bpc.inks"
close "inks with black-point compensation as xicclu behind a scaling by hand" "$T/bpc.tsv" "$T/bpc.inks"

sum=$(md5sum "$profile" | cut -c 1-8)
holds "the separation is named with intent, compensation and checksum" \
    "c[\"separation\"] == \"coated-late-black/relative/nobpc/$sum\"" "$T/plain.tsv"
holds "and with compensation" "c[\"separation\"] == \"coated-late-black/relative/bpc/$sum\"" "$T/bpc.tsv"
# The default separation's black is kept with the program: that of a profile which is the same but for
# a letter of its text is found by lcms2.
{ head -c 430 "$profile" && printf X && tail -c +432 "$profile"; } >"$T/coated-late-black.icc"
carn-sample -k "$T/coated-late-black.icc" -p "$T/patches.tsv" <"$T/frames" 2>/dev/null | sed 's|bpc/[0-9a-f]*|bpc/x|' >"$T/found.tsv"
sed 's|bpc/[0-9a-f]*|bpc/x|' "$T/bpc.tsv" >"$T/kept.tsv"
same "the black that is kept is the one that would be found" "$T/found.tsv" "$T/kept.tsv"
refused "readings of another separation are never mixed" carn-score "$T/plain.tsv"
says "and both are named" "nobpc/$sum.*bpc/$sum"
refused "nor solved for" carn-curve-solve "$T/plain.tsv"
status 1 "with -B they fit" carn-score -B "$T/plain.tsv"

# Heavy black: the public FOGRA39L data through argyll's colprof, black as early as it may be.
ti3=/usr/share/color/icc/FOGRA39L.ti3
if [ -f "$ti3" ]; then
    cp "$ti3" "$T/heavy.ti3"
    (cd "$T" && colprof -ql -b -nc -kx -l300 heavy >/dev/null 2>&1)
    carn-sample -k "$T/heavy.icc" -p "$T/patches.tsv" <"$T/frames" >"$T/heavy.tsv" 2>/dev/null
    refused "a separation that prints skin with black has no aim: score" carn-score -k "$T/heavy.icc" "$T/heavy.tsv"
    says "and says so" "no colour meets aim 'common'.*black|only .* of cyan"
    refused "a separation that prints skin with black has no aim: solve" carn-curve-solve -k "$T/heavy.icc" "$T/heavy.tsv"
else
    skip "a heavy-black separation" "FOGRA39L.ti3 is not installed"
fi
refused "an RGB profile is no separation" carn-sample -k /usr/share/color/icc/colord/sRGB.icc -p "$T/patches.tsv" <"$T/frames"
: >"$T/empty.icc"
refused "an empty profile" carn-sample -k "$T/empty.icc" -p "$T/patches.tsv" <"$T/frames"
CARN_SEPARATION=$T/empty.icc
export CARN_SEPARATION
refused "\$CARN_SEPARATION is used" carn-sample -p "$T/patches.tsv" <"$T/frames"
says "and named" 'empty\.icc'
finish
