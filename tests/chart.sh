#!/usr/bin/env bash
# The 24-patch colour-rendition chart (C. S. McCamy, H. Marcus, J. G. Davidson 1976) drawn as a
# picture from its published CIELAB values (tests/data/chart24.tsv names the source), written to
# files of every kind, decoded, sampled and compared with what was published.
. "$(dirname "$0")/lib.sh"

awk -F '\t' '/^#/ { next } !head { for (i = 1; i <= NF; i++) h[$i] = i; head = 1; next }
    { print $h["n"] "\t" $h["L_D50"] "\t" $h["a_D50"] "\t" $h["b_D50"] }' "$DATA/chart24.tsv" >published
"$SCENE" --chart --patches -n '*' >patches.tsv
# bound: CIE76; 8 bit has steps of its own, JPEG more
for form in 16.tif:0.02 16.png:0.02 16.pam:0.02 8.tif:0.5 8.png:0.5 8.jpg:1.5; do
    file=chart-${form%:*}
    "$SCENE" --chart -w 240 -h 160 | carn-encode -b "${file//[^0-9]/}" "$file"
    carn-decode "$file" | carn-sample -p patches.tsv >readings.tsv
    figures=$(awk -F '\t' -v bound="${form#*:}" 'function abs(x) { return x < 0 ? -x : x }
        FNR == 1 { file++; if (file == 2) { for (i = 1; i <= NF; i++) h[$i] = i; next } }
        file == 1 { L[FNR] = $2; a[FNR] = $3; b[FNR] = $4; next }
        { n++; d = sqrt(($h["L"] - L[n])^2 + ($h["a"] - a[n])^2 + ($h["b"] - b[n])^2); if (d > worst) worst = d }
        END { printf "%d patches within %.4f", n, worst; exit !(n == 24 && worst <= bound) }' published readings.tsv)
    if [ $? -eq 0 ]; then pass "the chart as $file: $figures"; else fail "the chart as $file: $figures"; fi
done
carn-decode chart-16.tif | carn-sample -p patches.tsv >even.tsv
holds "an even patch has no spread, no clipping, no flags but for dark ones and what is no skin" \
    'c["spread"] < 0.05 && (c["flags"] ~ /^(-|clipped|not-skin|clipped,not-skin)$/ || c["L"] < 30)' even.tsv
holds "the two skins of the chart are skin, blue and green are not" \
    '(c["patch"] !~ /skin/ || c["flags"] == "-") && (c["patch"] !~ /blue|green/ || c["flags"] ~ /not-skin/)' even.tsv
finish
