#!/usr/bin/env bash
# A job that was killed and run again gives the same bytes as an undisturbed one; so do two runs at once.
# A moment is a number of files that the run has made, not a time, so that moments spread over a run on any
# machine.
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"

# CARN_MOMENTS: how many moments; make check takes 20. CARN_SINGERS: whose frames, two each. CARN_VICTIM: group or
# make at all of them, in place of both in turns. "500 group 'aino birk emre hedda jomo kesi'" is a long run.
moments=${CARN_MOMENTS:-6} early=0
read -ra singers <<<"${CARN_SINGERS:-birk jomo}"
takes=1 shoot plain "${singers[@]}"
undisturbed
shopt -s globstar nullglob
# files and reach start no program: that would slow the run down.
files() { local all=("$1"/{work,out,report}/**) && made=${#all[@]}; }
files undisturbed/job
total=$made
mkfifo nothing && exec 9<>nothing
# reach MOMENT: waits until the run has made that moment's number of files.
reach() {
    until files job && [ "$made" -ge $(($1 * total / (moments + 2))) ] || ! kill -0 $run 2>/dev/null; do read -rt 0.01 -u 9; done
}

# finish_run JOB NAME: runs it again. No lock is left to wait for, the bytes are those of the undisturbed run, no
# temporary file is left.
finish_run() {
    local got=0
    timeout 120 carn-job "$1" >out 2>err || got=$?
    if [ $got -eq 0 ] && sums "$1" | cmp -s - want && [ -z "$(find "$1" -name '*.part' -o -name '.carn-*')" ]; then
        pass "$2"
    else
        fail "$2" "status $got" "$(tail -n 5 err)" "$(sums "$1" | diff - want | head -n 5)" "$(find "$1" -name '*.part' -o -name '.carn-*' | head -n 3)"
    fi
}

for ((k = 1; k <= moments; k++)); do
    # In turns: the whole process group or make alone, by SIGKILL or SIGTERM.
    case $((k % 4)) in 0) who=group signal=KILL ;; 1) who=make signal=KILL ;; 2) who=group signal=TERM ;; *) who=make signal=TERM ;; esac
    who=${CARN_VICTIM:-$who}
    rm -rf job
    cp -a plain job
    setsid carn-job -j 2 job >run.out 2>&1 &
    run=$!
    reach $k
    if [ "$who" = group ]; then
        kill -$signal -- -$run 2>/dev/null && alive=1 || alive=0
    else
        # make starts after planning; before that carn-job is killed in its place.
        victim=$(pgrep -x -P $run make | head -n 1)
        kill -$signal "${victim:-$run}" 2>/dev/null && alive=1 || alive=0
    fi
    wait $run 2>/dev/null
    [ "$alive" -eq 0 ] || [ -e job/report/summary.tsv ] || early=$((early + 1))
    finish_run job "$who ended by SIG$signal at moment $k of $moments, then run on"
done
[ $early -ge $((moments * 3 / 4)) ] && pass "$early of $moments moments lay before the end" || fail "$early of $moments moments lay before the end"

# One folder whose run is killed again and again.
rm -rf job
cp -a plain job
for share in 10 25 45 65 85; do
    setsid carn-job job >/dev/null 2>&1 &
    run=$!
    reach $((share * moments / 100))
    kill -KILL -- -$run 2>/dev/null
    wait $run 2>/dev/null
done
finish_run job "killed five times over, then run on"

# Two at once.
rm -rf job
cp -a plain job
carn-job job >one 2>one.err &
first=$!
carn-job job >two 2>two.err &
second=$!
wait $first; a=$?
wait $second; b=$?
is "two at once both end well" "$a $b" "0 0"
is "and share the work" "$(cat one two | grep -c '^\[')" $((2 * ${#singers[@]}))
is "one says that it waits" "$(cat one.err two.err | grep -c 'waiting for another run')" 1
finish_run job "to the same bytes"
make -C job >one 2>one.err &
first=$!
make -C job >two 2>two.err
b=$?
wait $first
is "two makes called by hand too" "$? $b" "0 0"
finish_run job "to the same bytes again"
finish
