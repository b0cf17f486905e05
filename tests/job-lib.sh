# shellcheck shell=bash
# What the tests of job folders share: an invented shoot; sourced after lib.sh.

# The flags of the make that runs the tests are not for a job's make.
unset MAKEFLAGS MAKELEVEL

# shoot JOB SINGER...: a job folder as carn-job-new and a person leave it: both cameras, three frames
# a singer (or $takes), each camera's card in its first frame.
shoot() {
    local job=$1 camera singer k frame first
    shift
    mkdir -p "$job/frames"
    printf 'frame\tsubject\tcamera\tcard\tapproved\n' >"$job/job.tsv"
    printf 'frame\tpatch\ttone\tx\ty\tw\th\n' >"$job/patches.tsv"
    printf 'include $(or $(CARN_RULES),$(shell carn-job --rules))\n' >"$job/Makefile"
    for camera in north south; do
        first=''
        for singer in "$@"; do
            for ((k = 1; k <= ${takes:-3}; k++)); do
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
sums() { (cd "$1" && find out report -type f -print0 | sort -z | xargs -0 sha256sum); }

# undisturbed: the job of the folder plain runs in a copy, which is called job since the report prints the name. What
# it delivers and reports stands in want.
undisturbed() {
    mkdir undisturbed
    cp -a plain undisturbed/job
    check "undisturbed" carn-job undisturbed/job
    sums undisturbed/job >want
}
# as_wanted NAME: the job of the folder job has delivered and reported the same.
as_wanted() { if sums job | cmp -s - want; then pass "$1"; else fail "$1" "$(sums job | diff - want | head -n 5)"; fi; }

# The frames that the last run finished, its output being in out.
remade() { grep -c '^\[' out; }

# remake JOB FRAME OUT: a picture made with nothing but its row of provenance.tsv and the original.
remake() {
    awk -F '\t' -v frame="$2" '
        function table(cell, head, file,  n, i, row) {
            print head > file
            if (cell != "-") { n = split(cell, row, " [|] "); for (i = 1; i <= n; i++) { gsub(/ ; /, "\t", row[i]); print row[i] > file } }
        }
        NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; head = "kind\tfrom\tto\tasked\tnote" }
        $1 == frame {
            table($at["neutral"], head, "p.neutral"); table($at["curve"], head, "p.curve"); table($at["look"], head, "p.look")
            table($at["weight"], "L\ta\tb\ttone\tspread", "p.readings")
            print $at["weight"] != "-" ? "yes" : "no" > "p.skin"; print $at["profile"] > "p.profile"; print $at["encode"] > "p.encode"
        }' "$1/report/provenance.tsv"
    local encode=() into=(cat)
    [ "$(cat p.encode)" = - ] || read -ra encode <p.encode
    [ "$(cat p.profile)" = - ] || into=(carn-to-profile -o "$(cat p.profile)")
    carn-decode "$1/frames/$2" | if [ "$(cat p.skin)" = yes ]; then
        carn-curve-apply -c p.neutral | carn-skin-weight -r p.readings | carn-curve-apply -c p.curve |
            carn-encode -b 16 -t pam - | carn-decode --as "$1/frames/$2" - | carn-curve-apply -c p.look
    else
        carn-curve-apply -c p.neutral -c p.curve -c p.look
    fi 2>/dev/null | "${into[@]}" | carn-encode "${encode[@]}" "$3" 2>/dev/null
}
