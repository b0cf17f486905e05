#!/usr/bin/env bash
# carn-sheet: what it draws, read again from the sheet.
. "$(dirname "$0")/lib.sh"

# Flat frames of two colours, whose place and colour on the sheet are known; one lies on its side.
flat() { # NAME WIDTH HEIGHT ORIENTATION RGB
    printf 'P7\n#@ name %s\n#@ orientation %d\nWIDTH %d\nHEIGHT %d\nDEPTH 3\nMAXVAL 255\nTUPLTYPE RGB\nENDHDR\n' "$1" "$4" "$2" "$3"
    head -c $(($2 * $3)) /dev/zero | sed "s/\\x0/$5/g"
}
{ flat red.png 400 200 1 '\xc8\x10\x10' && flat side.png 400 200 6 '\x10\xc8\x10' && flat small.png 40 50 1 '\x10\x10\xc8'; } >frames
at() { # X Y [SHEET]: the colour there
    pamcut -left "$1" -top "$2" -width 1 -height 1 "${3:-sheet.pam}" | pamtopnm -plain | tail -n 1 | awk '{ print int($1 / 257), int($2 / 257), int($3 / 257) }'
}
carn-sheet -c 2 -w 100 <frames >sheet.pam 2>err
is "two columns and two lines of cells" "$(grep -a '^WIDTH\|^HEIGHT\|^#@ depth\|^#@ name' sheet.pam | tr '\n' ' ')" "#@ name sheet #@ depth 8 WIDTH 236 HEIGHT 322 "
is "the ground is a neutral grey of L* 50" "$(at 5 5)" "118 118 118"
is "a wide frame as wide as its cell, in the middle" "$(at 12 50) $(at 111 98) $(at 60 48)" "200 16 16 200 16 16 118 118 118"
# 400 x 200 on its side is 200 x 400 upright: 62 or 63 x 125.
is "a frame on its side stands upright" "$(at 174 13) $(at 174 135) $(at 130 70)" "16 200 16 16 200 16 118 118 118"
is "a small one is not enlarged" "$(at 62 230) $(at 62 202) $(at 62 256)" "16 16 200 118 118 118 118 118 118"
name() { pamcut -left "$1" -top "$2" -width 100 -height 13 sheet.pam | pamtopnm | pamdepth 255 2>/dev/null | tail -c 3900 | od -An -v -tu1 -w3 | grep -c '255 *255 *255'; }
# The letters r e d . p n g of the table, counted in its own bits.
bits() {
    python3 - "$TOP/lib/data/letters.hex" "$1" <<'END'
import sys
rows = dict(line.strip().split(":") for line in open(sys.argv[1]))
print(sum(bin(int(rows["%04X" % ord(c)], 16)).count("1") for c in sys.argv[2]))
END
}
is "its name stands under it" "$(name 12 139)" "$(bits red.png)"

# Swatches of readings: their own colours, the aim last.
head='frame\tsubject\tpatch\ttone\tL\ta\tb\tcyan\tmagenta\tyellow\tblack'
printf '%b\nred\tann\tp\tmiddle\t50\t0\t0\t1\t1\t1\t1\n' "$head" >before.tsv
printf '%b\taim_L\taim_a\taim_b\tverdict\nred.png\tann\tp\tmiddle\t70\t0\t0\t1\t1\t1\t1\t90\t0\t0\toff\n' "$head" >after.tsv
carn-sheet -c 2 -w 99 -r before.tsv -r after.tsv <frames >sheet.pam 2>err
is "swatches of before, after and aim without a gap" "$(for x in 12 44 45 77 78 110; do at $x 150; done | cut -d ' ' -f 1 | tr '\n' ' ')" "119 119 171 171 226 226 "

# Where it is measured: the oval's and the box's outlines, white within black.
printf 'frame\tpatch\ttone\tx\ty\tw\th\nred.png\tface-1\tall\t25%%\t20%%\t50%%\t60%%\nred.png\tcard\tcard\t0\t0\t20%%\t20%%\n' >p.tsv
carn-sheet -c 2 -w 200 -p p.tsv <frames >sheet.pam 2>err
is "an oval touches its box's sides, and a card is a box" "$(at 62 137) $(at 161 137) $(at 112 107) $(at 52 97) $(at 112 137)" "255 255 255 255 255 255 255 255 255 255 255 255 200 16 16"
is "a frame without a patch is noted" "$(grep -c 'note:.*side.png' err)" 1

# Profiles of several frames meet in sRGB, tagged.
"$SCENE" -s celia -w 96 -h 96 -n a.tif >a.pam
carn-to-profile -o romm <a.pam >b.pam
cat a.pam b.pam | carn-sheet >sheet.pam
both=$(while read -r x y; do echo "$(at "$x" "$y") $(at $((x + 252)) "$y")"; done <<<$'90 130\n132 165\n132 200')
is "one colour in two encodings is one on the sheet, at backdrop, face and shirt" \
    "$(awk 'NF == 6 { n++; for (i = 1; i <= 3; i++) bad += ($i - $(i + 3))^2 > 4 } END { print n, bad + 0 }' <<<"$both")" "3 0"
carn-encode sheet.png <sheet.pam
is "tagged" "$(carn-facts sheet.png | tail -n 1 | grep -c sRGB)" 1
long=$(printf 'n%.0s' {1..60})
flat "$long" 40 50 1 '\x10\x10\xc8' | carn-sheet -w 100 >sheet.pam 2>err
is "a long name ends in two points" "$(name 12 139)" "$(bits nnnnnnnnnnnnnn..)"
refused "a width of 10" carn-sheet -w 10 <frames
refused "no columns" carn-sheet -c 0 <frames
finish
