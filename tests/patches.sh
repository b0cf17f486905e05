#!/usr/bin/env bash
# Patch tables: coordinates of the upright full-size picture serve turned, mirrored and
# averaged-down frames; which rows serve which frame; what is refused.
. "$(dirname "$0")/lib.sh"

# An upright picture of 60 x 40 whose every pixel tells where it is, stored in the eight ways that
# Exif's orientation has names for (netpbm turns it; 6 is shown by turning clockwise).
awk 'BEGIN { print "P3 60 40 65535"; for (y = 0; y < 40; y++) for (x = 0; x < 60; x++) print 20000 + x * 500, 20000 + y * 500, 30000 }' |
    pamtopnm >upright.ppm
turns=("" "-null" "-leftright" "-rotate180" "-topbottom" "-transpose" "-rotate90" "-xform=transpose,leftright,topbottom" "-rotate270")
printf 'frame\tpatch\ttone\tx\ty\tw\th\np.tif\tspot\tmiddle\t40\t6\t10\t12\np\tshare\t-\t50%%\t25%%\t20%%\t30%%\n' >p.tsv
for o in 1 2 3 4 5 6 7 8; do
    { pamflip "${turns[o]}" upright.ppm | pamtopam | sed "1a #@ name p.tif\n#@ orientation $o" >o$o.pam; } 2>/dev/null
    carn-sample -q -p p.tsv <o$o.pam >o$o.tsv 2>err
    # x 40..49, y 6..17: the means are known.
    holds "orientation $o: the patch lies where it is seen" \
        "c[\"patch\"] != \"spot\" || (abs(c[\"red\"] - (20000 + 44.5 * 500) / 65535) < 1e-6 && abs(c[\"green\"] - (20000 + 11.5 * 500) / 65535) < 1e-6 && c[\"pixels\"] == 120)" o$o.tsv
    holds "orientation $o: and in per cent" \
        "c[\"patch\"] != \"share\" || (abs(c[\"red\"] - (20000 + 35.5 * 500) / 65535) < 1e-6 && abs(c[\"green\"] - (20000 + 15.5 * 500) / 65535) < 1e-6)" o$o.tsv
    carn-blur-average -w "$([ $o -lt 5 ] && echo 30 || echo 20)" <o$o.pam | carn-sample -q -p p.tsv >half.tsv 2>err
    holds "orientation $o averaged down: the same place, spread and clipping unknown" \
        "c[\"patch\"] != \"spot\" || (abs(c[\"red\"] - (20000 + 44.5 * 500) / 65535) < 1e-4 && abs(c[\"green\"] - (20000 + 11.5 * 500) / 65535) < 1e-4 && c[\"spread\"] == \"-\" && c[\"clipped\"] == \"-\" && c[\"flags\"] == \"not-skin\")" half.tsv
done

# Lengths that end inside of a pixel, and half way: rounded as the picture is seen, whatever way it is stored.
printf 'frame\tpatch\ttone\tx\ty\tw\th\np.tif\thalf\t-\t7.5\t11.5\t8\t9\np.tif\tpart\t-\t13.3%%\t4.1%%\t9.7%%\t17.9%%\np.tif\tface\tall\t5.5\t3.5\t35\t31\n' >ends.tsv
for o in 1 2 3 4 5 6 7 8; do
    carn-sample -q -p ends.tsv <o$o.pam >e$o.tsv 2>err
    same "orientation $o: the same pixels where a patch ends inside of one" e$o.tsv e1.tsv
done
holds "half a pixel is rounded up" 'c["patch"] != "half" || (abs(c["red"] - (20000 + 11.5 * 500) / 65535) < 1e-6 && abs(c["green"] - (20000 + 16 * 500) / 65535) < 1e-6 && c["pixels"] == 72)' e6.tsv

# Which rows serve: the exact name, else without suffixes, else a pattern.
serve() { # ROWS FRAME-NAME: the patches that served
    { printf 'frame\tpatch\tx\ty\tw\th\n'; printf '%b' "$1"; } >s.tsv
    pamtopam <upright.ppm 2>/dev/null | sed "1a #@ name $2" | carn-sample -q -p s.tsv 2>err | tail -n +2 | cut -f 4 | paste -sd ' '
}
place='\t0\t0\t20\t20\n'
is "a row for a.tif serves a.jpg" "$(serve "a.tif\tone$place" a.jpg)" one
is "a row for a serves a.jpg" "$(serve "a\tone$place" a.jpg)" one
is "the exact name before the one without suffix" "$(serve "a.tif\tone${place}a.jpg\ttwo$place" a.jpg)" two
is "both before a pattern" "$(serve "*\tone${place}a\ttwo$place" a.jpg)" two
is "a pattern" "$(serve "choir-0?.tif\tone$place" choir-07.jpg)" one
is "the name of another" "$(serve "b.tif\tone$place" a.jpg)" ""
is "a name that looks like a pattern is taken as a name first" "$(serve "[a].tif\tone${place}*\ttwo$place" '[a].tif')" one
is "spaces and per cent signs" "$(serve "two words 50%.tif\tone$place" 'two%20words%2050%25.tif')" one
is "order is the table's" "$(serve "a\tz${place}a\ty$place" a.tif)" "z y"

# What is refused.
row() { # NAME PATTERN ROW: refused with this message
    { printf 'frame\tpatch\ttone\tx\ty\tw\th\n'; printf '%b\n' "$3"; } >bad.tsv
    pamtopam <upright.ppm 2>/dev/null | sed '1a #@ name choir-042.tif\n#@ depth 16' >f.pam
    carn-sample -p bad.tsv <f.pam >out 2>err
    got=$?
    if [ $got -eq 2 ] && [ ! -s out ] && grep -v ': note: ' err | grep -qE "^carn-sample: $2"; then pass "$1"; else fail "$1" "status $got" "$(cat err)"; fi
}
row "half a pixel outside to the right" "choir-042.tif: patch 'cheek' lies outside the frame \(56.5\+4 > 60\)" '*\tcheek\t-\t56.5\t0\t4\t4'
row "outside below" "choir-042.tif: patch 'cheek' lies outside the frame \(39\+4 > 40\)" '*\tcheek\t-\t0\t39\t4\t4'
row "a number of another base" "bad.tsv: line 2, column 'x': '0x5' is not a number" '*\tcheek\t-\t0x5\t0\t20%\t4'
row "per cent over a hundred" "choir-042.tif: patch 'cheek' lies outside" '*\tcheek\t-\t90%\t0\t20%\t4'
row "no width" "bad.tsv: line 2, column 'w'" '*\tcheek\t-\t0\t0\t0\t4'
row "not a number" "bad.tsv: line 2, column 'x'" '*\tcheek\t-\tleft\t0\t4\t4'
row "an unknown tone" "bad.tsv: line 2, column 'tone'" '*\tcheek\tdark\t0\t0\t4\t4'
row "smaller than a pixel" "choir-042.tif: patch 'cheek' of .* smaller than a pixel" '*\tcheek\t-\t5.1\t5.1\t0.2\t0.2'
row "no row for the frame" "choir-042.tif: no row of bad.tsv" 'other\tcheek\t-\t0\t0\t4\t4'
row "too many cells" "bad.tsv: line 2 has more than" '*\tcheek\t-\t0\t0\t4\t4\t5\t6'

# One frame of several that has no patch: told, status 2, the others are printed.
{ pamtopam <upright.ppm 2>/dev/null | sed '1a #@ name a.tif'; pamtopam <upright.ppm 2>/dev/null | sed '1a #@ name b.tif'
  pamtopam <upright.ppm 2>/dev/null | sed '1a #@ name c.tif'; } >three.pam
printf 'frame\tpatch\tx\ty\tw\th\na\tp\t0\t0\t20\t20\nc\tp\t0\t0\t20\t20\nd\tp\t0\t0\t20\t20\n' >ac.tsv
status 2 "a frame without any patch is status 2" carn-sample -p ac.tsv <three.pam
is "and the others are read" "$(tail -n +2 "$T/out" | cut -f 1 | paste -sd ' ')" "a.tif c.tif"
says "it is named" "b.tif: no row of ac.tsv"
{ head -n 3 ac.tsv; printf 'unused\tp\t0\t0\t20\t20\nd\tq\t0\t0\t2\t2\n'; } >u.tsv
check "rows that serve no frame are a note" carn-sample -p u.tsv < <(pamtopam <upright.ppm 2>/dev/null | sed '1a #@ name a.tif')
says "said once" "note: patch 'p' of line 3"

# Flags of readings.
flags() { # the flags of a 40 x 40 picture given by an awk expression for r, g, b (0..65535)
    awk "BEGIN { print \"P3 40 40 65535\"; for (y = 0; y < 40; y++) for (x = 0; x < 40; x++) { $1; print int(r), int(g), int(b) } }" |
        pamtopnm | carn-sample -q -p "${2:-whole.tsv}" 2>err >flags.tsv
    cell flags.tsv flags
}
printf 'frame\tpatch\ttone\tx\ty\tw\th\n*\tw\t-\t0\t0\t40\t40\n' >whole.tsv
printf 'frame\tpatch\ttone\tx\ty\tw\th\n*\tw\tcard\t0\t0\t40\t40\n' >card.tsv
printf 'frame\tpatch\ttone\tx\ty\tw\th\n*\tw\t-\t0\t0\t9\t11\n' >small.tsv
is "even skin has no flag" "$(flags 'r = 45000; g = 33000; b = 27000')" -
is "1 sample in 100 at the end is clipped" "$(flags 'r = (y * 40 + x) % 33 ? 45000 : 65535; g = 33000; b = 27000')" clipped
is "1 in 300 is not" "$(flags 'r = (y * 40 + x) % 100 ? 45000 : 65535; g = 33000; b = 27000')" -
is "half red cloth is mixed" "$(flags 'r = 45000; g = x < 20 ? 33000 : 12000; b = x < 20 ? 27000 : 12000')" mixed
is "cheek and lips, a hue apart at one chroma, are mixed" "$(flags 'r = 45000; g = x < 20 ? 33000 : 26000; b = x < 20 ? 22000 : 26000')" mixed
is "99 pixels are small" "$(flags 'r = 45000; g = 33000; b = 27000' small.tsv)" small
is "very dark" "$(flags 'r = 9000; g = 7000; b = 6000')" dark
is "a card lit unevenly" "$(flags 'r = g = b = 30000 + x * 60' card.tsv)" uneven
is "a card lit evenly" "$(flags 'r = g = b = 30000 + x * 6' card.tsv)" -
is "a card with a colour of its own" "$(flags 'r = 45000; g = 30000; b = 20000' card.tsv)" coloured

# The robust mean leaves out the lightest and darkest tenth; plain and median are options.
awk 'BEGIN { print "P3 40 40 65535"; for (i = 0; i < 1600; i++) { v = i % 20 == 0 ? 65000 : i % 20 == 1 ? 1000 : 30000; print v, v, v } }' | pamtopnm >pores.ppm
carn-sample -q -p whole.tsv <pores.ppm >r.tsv 2>err
holds "pores and speculars do not move the mean" 'abs(c["red"] - 30000 / 65535) < 1e-6' r.tsv
carn-sample -q -m plain -p whole.tsv <pores.ppm >r.tsv 2>err
holds "they do move the plain one" 'abs(c["red"] - 30300 / 65535) < 1e-6' r.tsv
carn-sample -q -m median -p whole.tsv <pores.ppm >r.tsv 2>err
holds "the median" 'abs(c["red"] - 30000 / 65535) < 1e-6' r.tsv
printf 'P7\nWIDTH 40\nHEIGHT 40\nDEPTH 4\nMAXVAL 255\nTUPLTYPE RGB_ALPHA\nENDHDR\n' >alpha.pam
awk 'BEGIN { for (i = 0; i < 1600; i++) printf "%c%c%c%c", i % 2 ? 200 : 50, 150, 120, i % 2 ? 255 : 254 }' >>alpha.pam
carn-sample -q -p whole.tsv <alpha.pam >r.tsv 2>err
holds "pixels with alpha under full are left out" 'c["pixels"] == 800 && abs(c["red"] - 200 / 255) < 1e-6' r.tsv
finish
