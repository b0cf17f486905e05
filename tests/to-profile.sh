#!/usr/bin/env bash
# carn-to-profile against an independent colour engine, argyll's xicclu (Debian argyll), and against
# lcms2's own utility without precalculation; keys, alpha, weight, clipping.
. "$(dirname "$0")/lib.sh"
ref=/usr/share/color/argyll/ref
engine() { xicclu -v0 -s1 "$@" | awk '{ print $1, $2, $3 }'; }
samples() { pamtopnm -plain 2>/dev/null | tail -n +4 | tr -s ' \n' '\n' | grep . | paste -d ' ' - - -; }

# 900 skins of L* 12 to 92, chroma 8 to 40, hue 30 to 80 degrees, in sRGB; a row of pixels.
colours 'BEGIN { srand(11); print "P3 900 1 65535"
    for (i = 0; i < 900; i++) {
        L = 12 + 80 * i / 900; C = 8 + 32 * rand() * (L < 25 ? .5 : 1); h = (30 + 50 * rand()) * 3.14159265 / 180
        print srgb(L, C * cos(h), C * sin(h))
    } }' | pamtopnm >skin.ppm
carn-decode skin.ppm >skin.pam 2>/dev/null
pamtopnm -plain <skin.ppm | tail -n +4 | tr -s ' \n' '\n' | grep . | paste -d ' ' - - - >codes
awk '{ printf "%.9f %.9f %.9f\n", $1 / 65535, $2 / 65535, $3 / 65535 }' codes >encoded

# near NAME BOUND OURS THEIRS: codes of 65535 against values of 0..1, by depth.
near() {
    local figures
    figures=$(paste -d ' ' "$3" "$4" | awk -v bound="$2" '{ d = 0; k = NR <= 370 ? "deep" : NR <= 600 ? "medium" : "light"
            for (i = 1; i <= 3; i++) { w = $(i + 3) * 65535; w = w < 0 ? 0 : w > 65535 ? 65535 : w; e = $i - w; if (e < 0) e = -e; if (e > d) d = e }
            n[k]++; if (d > worst[k]) worst[k] = d; all++; if (d > W) W = d }
        END { printf "deep %d within %.2f, medium %d within %.2f, light %d within %.2f of %s codes", n["deep"], worst["deep"], n["medium"], worst["medium"], n["light"], worst["light"], bound
            exit !(all == 900 && W <= bound) }')
    if [ $? -eq 0 ]; then pass "$1: $figures"; else fail "$1: $figures"; fi
}

# argyll prints XYZ and RGB with 6 decimals, which near black is some codes of 65535.
through() { engine -ff -ir -px "$1" <encoded | engine -fb -ir -px "$2"; }
for name in ClayRGB1998:oprgb Rec2020:bt2020 Rec709:bt709 sRGB:srgb; do
    file=$ref/${name%:*}.icm
    through $ref/sRGB.icm "$file" >want
    carn-to-profile -o "$file" <skin.pam 2>/dev/null | samples >got
    near "sRGB to ${name%:*} as argyll" 12 got want
done
carn-to-profile -o oprgb <skin.pam 2>/dev/null | samples >named
carn-to-profile -o $ref/ClayRGB1998.icm <skin.pam 2>/dev/null | samples | awk '{ print $1 / 65535, $2 / 65535, $3 / 65535 }' >want
near "oprgb is what argyll's profile of that space is" 12 named want

# A profile that is a table, made by argyll: both ways against lcms2's utility.
targen -d3 -f 300 table >/dev/null 2>&1
fakeread $ref/ClayRGB1998.icm table >/dev/null 2>&1
colprof -al -ql -O both.icc table >/dev/null 2>&1
if [ -s both.icc ]; then
    lcms() { awk '{ printf "%.9f %.9f %.9f\n", $1 / 257, $2 / 257, $3 / 257 }' codes | transicc -n -c0 -t1 -b "$@" 2>/dev/null |
        awk 'NF == 3 { printf "%.9f %.9f %.9f\n", $1 / 255, $2 / 255, $3 / 255 }'; }
    lcms -i'*sRGB' -oboth.icc >want
    carn-to-profile -o both.icc <skin.pam 2>/dev/null >tabled.pam
    samples <tabled.pam >got
    near "into a table as lcms2 without precalculation" 4 got want
    lcms -iboth.icc -o'*sRGB' >want
    { sed '/^ENDHDR/q' tabled.pam; tail -c 5400 skin.pam; } | carn-to-profile -o srgb | samples >got
    near "from a table as lcms2 without precalculation" 4 got want
else
    skip "tables" "argyll's colprof made none"
fi

# Skin of every singer keeps its colour: CIELAB before and after, by depth. The mean of a patch is
# taken in encoded values, so the grain of two encodings weighs a little differently.
"$SCENE" --list >singers.tsv
printf 'frame\tpatch\tx\ty\tw\th\n' >p.tsv
tail -n +2 singers.tsv | while IFS=$'\t' read -r singer depth _; do
    "$SCENE" -s "$singer" -w 96 -h 128 --profile wide -n "$singer.tif" >"$singer.pam" 2>/dev/null
    "$SCENE" -s "$singer" -w 96 -h 128 -n "$singer.tif" --patches >q.tsv
    carn-sample -q -p q.tsv <"$singer.pam" >before.tsv
    carn-to-profile -o srgb <"$singer.pam" 2>/dev/null | carn-sample -q -p q.tsv >after.tsv
    carn-differ before.tsv after.tsv | awk -F '\t' -v OFS='\t' -v d="$depth" 'NR > 1 && $2 != "*" { print d, $16 }'
done >kept
figures=$(awk -F '\t' '{ n[$1]++; if ($2 > w[$1]) w[$1] = $2; if ($2 > W) W = $2 }
    END { printf "light %d within %.3f, medium %d within %.3f, deep %d within %.3f", n["light"], w["light"], n["medium"], w["medium"], n["deep"], w["deep"]
        exit !(n["light"] && n["medium"] && n["deep"] && W <= 0.3) }' kept)
if [ $? -eq 0 ]; then pass "skin keeps its CIELAB from the wide profile to srgb: $figures"; else fail "skin keeps its CIELAB from the wide profile to srgb: $figures"; fi

# Clipping: full BT.2020 red is outside sRGB, grey is not.
printf 'P3 4 1 65535 65535 0 0 30000 30000 30000 0 65535 0 65535 65535 65535\n' | pamtopnm >full.ppm
carn-decode full.ppm 2>/dev/null | carn-to-profile -o bt2020 2>/dev/null >wide.pam
check "to a wider space nothing is clipped" carn-to-profile -o romm <wide.pam
[ ! -s "$T/err" ] && pass "and nothing is said" || fail "and nothing is said" "$(cat "$T/err")"
{ sed '/^ENDHDR/q' wide.pam; tail -c 24 full.ppm; } >full.pam
check "to a narrower one some are" carn-to-profile -o srgb <full.pam
says "and counted" 'note: full.ppm: clipped 2 of 4 pixels \(50\.00 %\) that srgb does not hold$'

# Keys and channels.
carn-to-profile -o srgb <full.pam 2>/dev/null >once.pam
carn-to-profile -o srgb <once.pam >twice.pam
same "a frame in that profile already passes unchanged" once.pam twice.pam
is "one profile a frame" "$(grep -ac '^#@ icc ' once.pam)" 1
"$SCENE" -w 96 -h 96 -n one.tif >one.pam
"$SCENE" -w 96 -h 96 -n two.tif -s lamin --profile wide >two.pam
cat one.pam two.pam | carn-to-profile -o oprgb 2>/dev/null >both.pam
{ carn-to-profile -o oprgb <one.pam; carn-to-profile -o oprgb <two.pam; } 2>/dev/null >each.pam
same "a stream of two profiles is as each alone" both.pam each.pam
printf 'P7\nWIDTH 2\nHEIGHT 1\nDEPTH 2\nMAXVAL 65535\nTUPLTYPE GRAYSCALE_ALPHA\nENDHDR\nabcdefgh' | carn-to-profile -o oprgb 2>err >grey.pam
is "a grey frame becomes RGB and keeps its alpha" "$(grep -a TUPLTYPE grey.pam) $(tail -c 10 grey.pam | cut -c 1,2) $(tail -c 2 grey.pam)" "TUPLTYPE RGB_ALPHA cd gh"
is "without a profile is a note" "$(grep -c 'note: .*no profile, taken as sRGB' err)" 1
for intent in relative perceptual saturation absolute; do check "intent $intent" carn-to-profile -i $intent -o romm <one.pam; done

refused "no profile" carn-to-profile <one.pam
refused "an unknown name" carn-to-profile -o nice <one.pam
says "with those there are" 'srgb, oprgb, p3-d65, bt709, bt2020, romm'
refused "an unknown intent" carn-to-profile -i nice -o srgb <one.pam
refused "a CMYK profile" carn-to-profile -o "$TOP/lib/data/coated-late-black.icc" <one.pam
head -c 300 $ref/sRGB.icm >cut.icc
refused "a profile cut short" carn-to-profile -o cut.icc <one.pam
refused "an operand" carn-to-profile -o srgb one.tif
finish
