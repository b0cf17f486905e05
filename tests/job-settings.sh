#!/usr/bin/env bash
# Job folders: what a person approves stays, cards of unequal exposure, every setting, settings and tables that cannot be.
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"

takes=1 shoot small emre jomo
# ---- approved ----
check "a small shoot" carn-job small
sha256sum <small/out/south-emre-1.tif >approved
sed -i 's/^\(south-emre-1.tif\t.*\)\t-$/\1\tyes/' small/job.tsv
sed -i '1i AIM = skin' small/Makefile
carn-job small >out 2>err
same "an approved picture is left as it is" approved <(sha256sum <small/out/south-emre-1.tif)
grep -q '^person	south-emre-1.tif	approved	' small/report/summary.tsv && pass "and the run says so" || fail "and the run says so"
carn-job small clean-work
carn-job small >out 2>err
same "also after clean-work" approved <(sha256sum <small/out/south-emre-1.tif)
remake small south-emre-1.tif remade-south-emre-1.tif
same "its row is that of the picture" remade-south-emre-1.tif small/out/south-emre-1.tif
sed -i 's/\tyes$/\t-/' small/job.tsv
carn-job small >out 2>err
[ "$(sha256sum <small/out/south-emre-1.tif)" != "$(cat approved)" ] && pass "no more when approval is taken back" || fail "no more when approval is taken back"

sed -i '/^AIM = skin/d' small/Makefile

# ---- cards of unequal exposure ----
printf 'kind\tfrom\tto\nneutral\t50 0 0\t42 0 0\n' >dark.curve
cp -a small dark
for frame in small/frames/south-*; do
    carn-decode "$frame" | carn-curve-apply -c dark.curve 2>/dev/null | carn-encode "dark/frames/${frame##*/}"
done
carn-job dark >out 2>err
stops=$(awk -F '\t' '$1 == "person" && $3 == "exposure" { split($7, w, " "); print w[3] }' dark/report/summary.tsv)
awk -v stops="$stops" 'BEGIN { exit !(stops > .52 && stops < .62) }' && pass "cards that differ by a known 0.56 stops: $stops" || fail "cards that differ by 0.56 stops" "$stops"
sed -i '1i EQUALISE = yes' dark/Makefile
carn-job dark >out 2>err
spread=$(awk -F '\t' '$1 ~ /emre/ { if (!n++ || $13 < low) low = $13; if ($13 > high) high = $13 } END { print high - low }' dark/report/before.tsv)
awk -v spread="$spread" 'BEGIN { exit !(spread < 1.5) }' && pass "equalised, one singer has one lightness before both cameras: within $spread" || fail "equalised" "$spread"

# ---- settings ----
printf 'kind\tfrom\tto\tasked\tnote\nknot\tB 0.5\tB 0.53\t-\twarm\n' >look.curve
printf 'STRENGTH = 0.5\nFORMAT = jpg\nQUALITY = 90\nLOOK = ../look.curve\nCURVE = frame\nEQUALISE = yes\n' | cat - small/Makefile >m && mv m small/Makefile
status 0 "half strength, JPEG, a look, a curve a frame" carn-job small
is "JPEG files" "$(find small/out -name '*.jpg' | wc -l) $(head -c 2 small/out/south-jomo-1.jpg | od -An -tx1)" "4  ff d8"
is "4 curves" "$(find small/work/group -name 'curve-*.tsv' | wc -l)" 4
# Against the same readings solved whole.
for curve in small/work/group/*/curve-*.tsv; do
    number=${curve##*/curve-} aim=(-a common)
    [ ! -f "${curve%/*}/aim.tsv" ] || aim=(--by-subject -f "${curve%/*}/aim.tsv")
    paste <(carn-curve-solve "${aim[@]}" "${curve%/*}/pooled-$number" 2>/dev/null | cut -f 1-3) <(cut -f 1-3 "$curve")
done | awk -F '\t' '$1 ~ /move|turn/ { split($2, f, " "); split($3, t, " "); split($6, h, " "); n++
    for (i = 2; i <= 3; i++) if ((h[i] - f[i] - (t[i] - f[i]) / 2)^2 > 1e-6) bad++ } END { exit n < 4 || bad }' &&
    pass "each move goes half the way of the whole one" || fail "each move goes half the way of the whole one"
[ -n "$(find small/work/frame -path "*-south-jomo-1.tif/plain.tsv" -size +0)" ] && pass "judged before the look" || fail "judged before the look"
holds "cards at one level" 'c["kind"] != "neutral" || c["to"] ~ /^61\.[67]/' small/work/card/*-south-emre-1.tif/neutral.tsv
cp small/Makefile good.mk
sed -i 's/^STRENGTH = 0.5/STRENGTH = 0.4/; 1i SKIN = no\nPROFILE = p3-d65' small/Makefile
sed -i 's/^\(south-emre-1.tif\t.*\)\t-$/\1\tyes/' small/job.tsv
cut -f 13-15 small/work/frame/*-south-emre-1.tif/plain.tsv >plain
status 0 "the whole picture moves, delivered in another profile" carn-job small
same "an approved picture is judged as it was before its own look" plain <(cut -f 13-15 small/work/frame/*-south-emre-1.tif/plain.tsv)
is "and kept" "$(grep -c '^person	south-emre-1.tif	approved	' small/report/summary.tsv)" 1
sed -i 's/\tyes$/\t-/' small/job.tsv
is "as many pictures as before" "$(find small/out -name '*.jpg' | wc -l)" 4
remake small south-jomo-1.tif remade.jpg
same "remade from its row, without a weight" remade.jpg small/out/south-jomo-1.jpg
is "in that profile" "$(carn-facts small/out/south-jomo-1.jpg 2>/dev/null | cut -f 8 | grep -ci p3)" 1
for bad in 'AIM = nothing' 'FORMAT = gif' 'STRENGTH = 2' 'SKIN = maybe' 'PROFILE = nowhere.icc' 'LOOK = nowhere' 'SEPARATION = nowhere' 'CURVE = both' 'QUALITY = 0'; do
    { echo "$bad" && grep -v "^${bad%% =*} = " good.mk; } >small/Makefile
    status 2 "$bad is refused" carn-job small
    says "by its name" "^carn-job: Makefile: $bad"
done
cp good.mk small/Makefile

# ---- bad tables ----
printf 'picture\nx\n' >small/job.tsv
refused "a job table without frames" carn-job small
refused "an unknown target" carn-job small everything
refused "a folder that is not there" carn-job nowhere
refused "no job" carn-job
finish
