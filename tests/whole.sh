#!/usr/bin/env bash
# The whole face, not a reading of it: all singers, both cameras, faces found without a row, all skin
# of the face measured from the delivered files by numpy (tests/whole.py), light, medium and deep.
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"
have tifftopnm && /usr/bin/python3 -c 'import numpy, PIL' 2>/dev/null || { skip "whole faces" "no netpbm or numpy" && finish; }

seed=51 # of no other test
mkdir -p job/frames ideal
"$SCENE" --list | cut -f 1,2 >singers.tsv
printf 'frame\tsubject\tcamera\tcard\tapproved\n' >job/job.tsv
printf 'frame\tpatch\ttone\tx\ty\tw\th\n' >job/patches.tsv
printf 'include $(or $(CARN_RULES),$(shell carn-job --rules))\n' >job/Makefile
first=
for singer in $(tail -n +2 singers.tsv | cut -f 1); do
    card=() size=(-w 480 -h 640)
    [ "$first" ] || card=(--card)
    : "${first:=$singer}"
    for camera in north south; do
        add job "$camera-$singer.tif" "$singer" "$camera" "$camera-$first.tif" --seed $seed "${size[@]}"
    done
    # The card stands before the shirt: the ideal picture has it where the others have it.
    "$SCENE" -s "$singer" --camera none --seed $seed "${size[@]}" "${card[@]}" -n x.tif | carn-encode "ideal/$singer.tif"
done
grep -e '^frame' -e 'card' job/patches.tsv >card.tsv && mv card.tsv job/patches.tsv
carn-job job >job.log 2>&1
[ $? -lt 2 ] && pass "the job is done" || fail "the job is done" "$(tail -n 5 job.log)"
holds "no frame is off or held" 'c["verdict"] !~ /off|held/' job/report/after.tsv
holds "no tone of a face was made lighter or darker, by 0.05 in L* (light, medium, deep)" 'c["tone"] == "card" || abs(c["dL"]) < 0.05' job/report/after.tsv

ln -s ../ideal job/ideal
check "all skin of the faces" /usr/bin/python3 -B "$TOP/tests/whole.py" "$TOP/scripts" job singers.tsv
cp out figures
sed 's/^/# /' figures
is "four faces in each depth" "$(tail -n +2 figures | cut -f 1,2 | sort | tr '\t\n' ' ;')" "deep 4;light 4;medium 4;"
holds "the cameras agree: CIEDE2000 0.5 in the mean" 'c["between"] <= 0.5' figures
holds "and 1.4 in the worst face's 95th percentile" 'c["between_95"] <= 1.4' figures
holds "as the ideal camera has it, turned: 0.6 in the mean" 'c["ideal"] <= 0.6' figures
holds "and 1.5 in the worst face's 95th percentile" 'c["ideal_95"] <= 1.5' figures
holds "hue spreads by 1.25 times the ideal's and half a degree at most" 'c["spread"] <= 0.5' figures
finish
