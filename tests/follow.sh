#!/usr/bin/env bash
# One look across cameras: south follows north at three tones of every singer of the scenes.
. "$(dirname "$0")/lib.sh"
cd "$T" || exit 1

"$SCENE" --list >singers.tsv
scene() { "$SCENE" -w 300 -h 400 "$@"; }
mapfile -t singers < <(tail -n +2 singers.tsv | cut -f 1)
for singer in "${singers[@]}"; do
    for camera in north south; do
        scene -s "$singer" --camera $camera --card -n x.tif >$camera.pam
        scene -s "$singer" --camera $camera --card -n x.tif --patches >p.tsv
        carn-sample -q -p p.tsv <$camera.pam | carn-curve-neutral >$camera.curve 2>/dev/null
        carn-curve-apply -c $camera.curve <$camera.pam 2>/dev/null | carn-sample -q -p p.tsv >"$camera.$singer"
    done
    carn-curve-solve -l "north.$singer" "south.$singer" >"follow.$singer"
    carn-curve-apply -c south.curve -c "follow.$singer" <south.pam 2>/dev/null | carn-sample -q -p p.tsv >"after.$singer"
    carn-curve-solve --tone -l "north.$singer" "south.$singer" >"tone.$singer"
    carn-curve-apply -c south.curve -c "tone.$singer" <south.pam 2>/dev/null | carn-sample -q -p p.tsv >"toned.$singer"
    for what in south after toned; do
        carn-differ "north.$singer" "$what.$singer" 2>/dev/null | awk -F '\t' -v OFS='\t' -v s="$singer" '
            NR == 1 { for (i = 1; i <= NF; i++) h[$i] = i; next }
            $h["patch"] == "*" && $h["tone"] ~ /light|middle|shade/ { print s, $h["tone"], $h["ciede2000"], $h["dL"] }' >>$what.differ
    done
done
summary() { # TABLE: mean and worst by depth, and over all
    awk -F '\t' 'NR == FNR { depth[$1] = $2; next } { k = depth[$1]; n[k]++; sum[k] += $3; if ($3 > worst[k]) worst[k] = $3; N++; S += $3; if ($3 > W) W = $3
        d = $4 < 0 ? -$4 : $4; if (d > D) D = d }
        END { printf "light %d mean %.2f worst %.2f, medium %d mean %.2f worst %.2f, deep %d mean %.2f worst %.2f, all mean %.3f worst %.3f dL %.3f",
            n["light"], sum["light"] / n["light"], worst["light"], n["medium"], sum["medium"] / n["medium"], worst["medium"],
            n["deep"], sum["deep"] / n["deep"], worst["deep"], S / N, W, D }' singers.tsv "$1"
}
between() { summary "$1" | awk -v c="$2" '{ for (i = 1; i <= NF; i++) { if ($i == "all") mean = $(i + 2); if ($i == "worst") worst = $(i + 1); if ($i == "dL") dL = $(i + 1) }
    if (c == "before") exit !(mean >= 3); exit !(mean < 1 && worst <= 2 && dL <= 0.3) }'; }
between south.differ before && pass "before: $(summary south.differ)" || fail "before: $(summary south.differ)"
between after.differ after && pass "south follows north: $(summary after.differ)" || fail "south follows north: $(summary after.differ)"
between toned.differ after && pass "and lightness too: $(summary toned.differ)" || fail "and lightness too: $(summary toned.differ)"
finish
