#!/usr/bin/env bash
# Job folders: a whole shoot through carn-job; what is remade, what fails alone, what is said.
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"

# ---- a whole shoot ----
takes=2 shoot job birk emre hedda imani
cp -a job/frames originals
status 0 "16 pictures, two cameras, four singers" carn-job job
is "16 are delivered" "$(find job/out -type f | wc -l) $(remade)" "16 16"
is "each with its line and a running count" "$(grep -c '^\[[0-9]*/16\] .*M/C .* to .*, \(on\|held\)' out)" 16
is "the summary's last line is the status" "$(tail -n 1 job/report/summary.tsv)" "$(printf 'status\t0')"
is "it opens with the set" "$(sed -n 2p job/report/summary.tsv | cut -f 1-3)" "$(printf 'spread\tbirk\thue')"
is "four frames or more in each depth" "$(awk -F '\t' '$1 == "verdict" { n[$2] += $4 } END { print n["light"], n["medium"], n["deep"] }' job/report/summary.tsv)" "4 8 4"
holds "hue, chroma and ratios come closer, over frames and across cameras, in the mean by half" \
    'c["about"] != "mean" || c["after"] < c["before"] / 2' job/report/summary.tsv
diff -r originals job/frames >/dev/null && pass "originals are as they were" || fail "originals are as they were"
sums job >undisturbed

check "run again" carn-job job
is "nothing is remade" "$(remade)" 0
touch job/frames/south-emre-2.tif
check "one original touched" carn-job job
is "its frame is remade, its group not" "$(remade)" 1
touch job/frames/north-birk-1.tif
check "the card's original touched" carn-job job
is "the neutral has the same bytes, so that frame alone" "$(remade)" 1
is "all with the same bytes" "$(sums job | cmp - undisturbed 2>&1)" ""
cp originals/south-emre-1.tif job/frames/south-emre-2.tif
status 0 "one original replaced" carn-job job
is "the singer's colour changed: the four frames of both cameras" "$(remade)" 4
cp originals/south-emre-2.tif job/frames/south-emre-2.tif
touch -d 2020-01-01 job/frames/south-emre-2.tif
check "put back, with an older time" carn-job job
is "is seen" "$(remade)" 4
is "and gives the bytes of before" "$(sums job | cmp - undisturbed 2>&1)" ""
rm job/out/north-emre-1.tif
check "a delivered picture taken away" carn-job job
is "is made again" "$(remade) $(find job/out -type f | wc -l)" "1 16"
rm job/report/*.*
check "tables and pages of the report taken away" carn-job job
is "are written again, no picture" "$(remade) $(sums job | cmp - undisturbed 2>&1)" "0 "
sed -i 's/^north-imani-2.tif\tforehead\tmiddle\t[0-9.]*%/north-imani-2.tif\tforehead\tmiddle\t50.9%/' job/patches.tsv
check "a patch moved on one picture" carn-job job
is "its singer's four pictures alone are made again" "$(grep '^\[' out | grep -c imani) $(remade)" "4 4"

# ---- audit, clean-work ----
status 1 "audit measures only" carn-job job audit
is "all pictures" "$(tail -n +2 job/report/before.tsv | cut -f 1 | sort -u | wc -l)" 16
touch audited
status 1 "audit again" carn-job job audit
is "writes no report" "$(find job/report -name '*.html' -newer audited)" ""
sums job | grep out/ | grep -v imani | cmp -s - <(grep out/ undisturbed | grep -v imani) && pass "and delivers nothing" || fail "and delivers nothing"
check "clean-work" carn-job job clean-work
is "leaves nothing under work" "$(ls job/work)" ""
check "all again" carn-job job
sums job | grep -v -e imani -e report/ | cmp -s - <(grep -v -e imani -e report/ undisturbed) && pass "the same pictures" || fail "the same pictures"

# ---- provenance: from the row and the original, bit for bit ----
remake job south-hedda-2.tif remade-south-hedda-2.tif
same "a picture remade from its row" remade-south-hedda-2.tif job/out/south-hedda-2.tif
is "the row holds the checksums" "$(cut -f 17,18 job/report/provenance.tsv | grep -c "$(sha256sum <job/frames/south-hedda-2.tif | cut -d ' ' -f 1)	$(sha256sum <job/out/south-hedda-2.tif | cut -d ' ' -f 1)")" 1
check "carn-explain" carn-explain -j job south-hedda-2
is "takes ten lines" "$(wc -l <out)" 10
grep -q '^3 card .*south-birk-1.tif: neutral L\*' out && grep -qE '^7 curve .*(move|turn) L\*' out && grep -q '^10 verdict *\(on\|held\)' out &&
    pass "with card, moves and verdict" || fail "with card, moves and verdict" "$(cat out)"
refused "explain a frame that is not there" carn-explain -j job nobody.tif

# ---- one bad frame, a bad card, an off frame ----
head -c 100000 originals/south-hedda-2.tif >job/frames/south-hedda-2.tif
status 2 "one corrupt frame among 16" carn-job job
# Its singer's colour is of the others now.
others() { grep ' out/' | grep -v -e imani -e north-hedda -e south-hedda-1; }
is "its picture of before is kept, those of other groups are as they were" "$(find job/out -type f | wc -l) $(sums job | others | cmp - <(others <undisturbed) 2>&1)" "16 "
grep -q '^person	south-hedda-2.tif	not renewed	' job/report/summary.tsv && pass "and listed as not renewed" || fail "and listed as not renewed"
grep -q '^person	south-hedda-2.tif	failed	.*frames\|^person	south-hedda-2.tif	failed	.*south-hedda-2.tif: ' job/report/summary.tsv && pass "the summary names it" || fail "the summary names it" "$(grep hedda job/report/summary.tsv)"
is "its message is in its tables, which have no row" "$(cat job/work/frame/*-south-hedda-2.tif/readings.tsv | sed 's/^\(# failed: \).*south-hedda-2.tif.*/\1/; s/^frame\t.*/frame/' | tr '\n' ' ')" "# failed:  frame "
is "the last line says 2" "$(tail -n 1 job/report/summary.tsv | cut -f 2)" 2
cp originals/south-hedda-2.tif job/frames/
check "mended" carn-job job
is "16 again" "$(find job/out -type f | wc -l)" 16
head -c 100000 originals/north-birk-1.tif >job/frames/north-birk-1.tif
status 2 "the frame with the card corrupt" carn-job job
is "the others are delivered, without the neutral step" "$(awk -F '\t' 'NR > 1 && $2 ~ /^north/ && $11 == "-"' job/report/provenance.tsv | wc -l)" 7
grep -q '^person	north-birk-1.tif	card	.*8 frames' job/report/summary.tsv && pass "the card is told of" || fail "the card is told of" "$(cut -c 1-200 job/report/summary.tsv | grep birk)"
cp originals/north-birk-1.tif job/frames/
"$SCENE" -s emre --camera south --strength 4 --seed 2 -w 240 -h 320 -n south-emre-2.tif | carn-encode -f job/frames/south-emre-2.tif
status 1 "an off frame" carn-job job
is "everything is delivered" "$(find job/out -type f | wc -l)" 16
grep -q '^person	south-emre-2.tif	off	' job/report/summary.tsv && grep -q '^person	south-emre-2.tif	outlier	.*lies [0-9.]* from' job/report/summary.tsv &&
    pass "it is named as off and as an outlier, with how far" || fail "it is named as off and as an outlier" "$(grep emre job/report/summary.tsv)"
cp originals/south-emre-2.tif job/frames/
finish
