# shellcheck shell=bash
# What the tests of job folders share: an invented shoot; sourced after lib.sh.

# shoot JOB SINGER...: a job folder as carn-job-new and a person leave it: both cameras, three frames
# a singer, each camera's card in its first frame.
shoot() {
    local job=$1 camera singer k frame first
    shift
    mkdir -p "$job/frames"
    printf 'frame\tsubject\tcamera\tcard\tapproved\n' >"$job/job.tsv"
    printf 'frame\tpatch\ttone\tx\ty\tw\th\n' >"$job/patches.tsv"
    # shellcheck disable=SC2016 # for make
    printf 'include $(or $(CARN_RULES),$(shell carn-job --rules))\n' >"$job/Makefile"
    for camera in north south; do
        first=''
        for singer in "$@"; do
            for k in 1 2 3; do
                frame=$camera-$singer-$k.tif
                add "$job" "$frame" "$singer" "$camera" "${first:=$frame}" --seed $k
            done
        done
    done
}

# add JOB FRAME SINGER CAMERA CARD OPTION...: one more frame, with its rows.
add() {
    local job=$1 frame=$2 singer=$3 camera=$4 card=$5 scene
    shift 5
    scene=("$SCENE" -s "$singer" --camera "$camera" -w 240 -h 320 -n "$frame" "$@")
    [ "$card" != "$frame" ] || scene+=(--card)
    "${scene[@]}" | carn-encode "$job/frames/$frame"
    "${scene[@]}" --patches | awk -F '\t' 'NR > 1 && $3 ~ /middle|card/' >>"$job/patches.tsv"
    printf '%s\t%s\t%s\t%s\t-\n' "$frame" "$singer" "$camera" "$card" >>"$job/job.tsv"
}

# sums JOB: what a job delivers and reports, byte for byte.
sums() { (cd "$1" && find out report -type f -print0 | LC_ALL=C sort -z | xargs -0 sha256sum); }
