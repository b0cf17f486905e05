#!/usr/bin/env bash
# One look across cameras: south follows north at three tones of every singer of the scenes, first with
# tone curves alike below the lights, then with unlike ones, where --tone follows lightness as well.
. "$(dirname "$0")/lib.sh"

"$SCENE" --list >singers.tsv
mapfile -t singers < <(tail -n +2 singers.tsv | cut -f 1)

# differ A B TABLE: a row a tone: singer, tone, CIEDE2000, dL*.
differ() {
    carn-differ "$1" "$2" 2>/dev/null | tsv -v OFS='\t' -v s="$singer" '
        $h["patch"] == "*" && $h["tone"] ~ /light|middle|shade/ { print s, $h["tone"], $h["ciede2000"], $h["dL"] }' >>"$3"
}
# follow WHERE OPTION...: the tables before, plain and toned to north, and how far each moved L*.
follow() {
    local camera what
    mkdir "$1"
    for singer in "${singers[@]}"; do
        "$SCENE" -w 270 -h 360 -s "$singer" --card -n x.tif --patches >p.tsv
        for camera in north south; do
            "$SCENE" -w 270 -h 360 -s "$singer" --camera $camera --card -n x.tif "${@:2}" >$camera.pam
            carn-sample -q -p p.tsv <$camera.pam | carn-curve-neutral >$camera.curve 2>/dev/null
            carn-curve-apply -c $camera.curve <$camera.pam 2>/dev/null | carn-sample -q -p p.tsv >$camera
        done
        carn-curve-solve -l north south >plain.curve
        carn-curve-solve --tone -l north south >toned.curve
        differ north south "$1/before"
        for what in plain toned; do
            carn-curve-apply -c south.curve -c $what.curve <south.pam 2>/dev/null | carn-sample -q -p p.tsv >$what
            differ north $what "$1/$what"
            differ south $what "$1/$what.moved"
        done
    done
}
# figures TABLE: by depth and over all: how many, mean and worst CIEDE2000, largest |dL*|.
figures() {
    awk -F '\t' 'function add(k) { n[k]++; sum[k] += $3; if ($3 > worst[k]) worst[k] = $3; if (dL > most[k]) most[k] = dL }
        NR == FNR { depth[$1] = $2; next } { dL = $4 < 0 ? -$4 : $4; add(depth[$1]); add("all") }
        END { for (i = split("all deep medium light", d, " "); i > 0; i--) { k = d[i]
            printf "%s %d mean %.2f worst %.2f |dL*| %.2f%s", k, n[k], sum[k] / n[k], worst[k], most[k], (i > 1 ? ", " : "") } }' singers.tsv "$1"
}
# within NAME TABLE AWK-CONDITION: holds for each depth and for all; it may use mean, worst, dL and n, their number.
within() {
    if figures "$2" | tr ',' '\n' | awk '{ n = $2; mean = $4; worst = $6; dL = $8; rows++; if (!('"$3"')) bad++ } END { exit !(rows == 4 && !bad) }'; then
        pass "$1: $(figures "$2")"
    else
        fail "$1: $(figures "$2")"
    fi
}

follow like
within "before" like/before "n >= 12 && mean >= 3"
within "south follows north" like/plain "mean < 1 && worst <= 2"
within "and leaves L* alone" like/plain.moved "dL <= 0.3"
within "and lightness too" like/toned "mean < 1 && worst <= 2 && dL <= 0.3"

follow unlike --contrast 1
within "unlike tone curves, before" unlike/before "n >= 12 && mean >= 3 && dL > 2"
within "without --tone the difference in L* stays" unlike/plain "dL > 2"
within "for L* is left alone" unlike/plain.moved "dL <= 0.3"
within "with --tone it follows all" unlike/toned "mean < 1 && worst <= 2 && dL <= 0.3"
within "which moves L*" unlike/toned.moved "dL > 2"
finish
