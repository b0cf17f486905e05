#!/usr/bin/env bash
# What carn-patch-find believes of a face: nearly all of one that is well seen, little of one that is a few
# pixels wide, nothing of one in a picture of one colour. A light, a medium and a deep singer.
. "$(dirname "$0")/lib.sh"
for singer in aino emre lamin; do "$SCENE" -s $singer -w 384 -h 512 -n $singer; done >large.pam
believed() { carn-patch-find | tsv '{ print $h["confidence"] }' | paste -sd ' '; }
between() { # NAME LEAST MOST CONFIDENCES
    if awk -v low="$2" -v high="$3" '{ for (i = 1; i <= NF; i++) bad += $i < low || $i > high } END { exit NF != 3 || bad > 0 }' <<<"$4"; then pass "$1: $4"; else fail "$1" "$4"; fi
}
between "a face 100 pixels wide is one" 0.95 1 "$(believed <large.pam)"
between "of one 17 wide there is a little doubt" 0.8 0.985 "$(carn-blur-average -w 64 <large.pam | believed)"
between "of one 11 wide more" 0.5 0.88 "$(carn-blur-average -w 40 <large.pam | believed)"
between "and one 9 wide is still proposed" 0.25 0.85 "$(carn-blur-average -w 34 <large.pam | believed)"
# Overexposed, a face is judged by what is not burnt; one whose cheeks are burnt whole is none.
burn() { # SINGER FACTOR: of encoded values
    "$SCENE" -w 192 -h 256 -s "$1" | pamtopnm 2>/dev/null | pamfunc -multiplier="$2"
}
between "burnt in places, each is as sure" 0.9 1 "$(for of in aino:1.5 emre:2.2 lamin:2.2; do burn ${of%:*} ${of#*:} | believed; done 2>/dev/null | paste -sd ' ')"
between "half burnt, some less" 0.6 1 "$(for of in aino:1.7 aino:1.8 emre:2.2; do burn ${of%:*} ${of#*:} | believed; done 2>/dev/null | paste -sd ' ')"
status 1 "no cheek left: none" carn-patch-find < <(burn birk 2.4)
# Toned in one colour, and with a tenth or a fifth of its own colours left.
for singer in aino:0.1 emre:0.2 lamin:0.1; do
    "$SCENE" -s ${singer%:*} -w 384 -h 512 | pamtopnm 2>/dev/null >own.ppm
    ppmtopgm own.ppm | pgmtoppm '#d0a080' >toned.ppm
    ppmmix ${singer#*:} toned.ppm own.ppm >faded.ppm
    status 1 "none in one colour: ${singer%:*}" carn-patch-find <toned.ppm
    status 1 "nor where other colours are faint" carn-patch-find <faded.ppm
done
for singer in aino emre lamin; do "$SCENE" -s $singer -w 384 -h 512 --brick --with goro -n $singer; done >pairs.pam
is "one row for each face of two people" "$(carn-patch-find <pairs.pam | tail -n +2 | cut -f 1,2 | tr '\t\n' ' ;')" \
    "$(printf '%s face-1;%s face-2;' aino aino emre emre lamin lamin)"
finish
