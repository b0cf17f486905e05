#!/usr/bin/env bash
# Nothing sticks: each program of a two-frame job is killed once, at each of its starts in turn, and
# later each fails with status 2 once; the run says so, and the next one gives the bytes of a job
# that nobody disturbed. make and the job's own programs are killed by job-kill.sh.
# shellcheck source=tests/lib.sh
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$(dirname "$0")/job-lib.sh"
cd "$T" || exit 1
unset MAKEFLAGS MAKELEVEL

shoot plain emre
for frame in north-emre-3 south-emre-1 south-emre-2 south-emre-3; do rm plain/frames/$frame.tif && sed -i "/^$frame/d" plain/job.tsv plain/patches.tsv; done

# The programs behind a stand-in that counts the starts and spoils one of them.
mkdir -p suite/bin suite/real && cp -a "$CARN_BUILD/share" suite/ && cp "$BIN"/carn-* suite/real/ && cp -a suite/share suite/real/../
for program in suite/real/carn-*; do
    name=${program##*/}
    case $name in carn-job*) cp "$program" suite/bin/ && continue ;; esac
    cat >"suite/bin/$name" <<'END'
#!/bin/sh
exec 9>>"$STARTS.lock" && flock 9
echo x >>"$STARTS"
n=$(wc -l <"$STARTS")
exec 9>&-
if [ "$n" -eq "$SPOIL" ]; then
    case $HOW in kill) kill -KILL $$ ;; *) cat >/dev/null; echo "${0##*/}: <stdout>: cannot write: No space left on device" >&2; exit 2 ;; esac
fi
END
    printf 'exec "%s" "$@"\n' "$T/suite/real/$name" >>"suite/bin/$name" && chmod +x "suite/bin/$name"
done
mkdir -p suite/real/../share
ln -sfn "$T/suite/share" "$T/share" # programs look beside their own folder

go() { # JOB SPOIL HOW
    rm -f starts
    STARTS=$T/starts SPOIL=$2 HOW=$3 PATH="$T/suite/bin:/usr/bin:/bin" timeout 300 carn-job -j 1 "$1" >out 2>err
}
cp -a plain undisturbed
go undisturbed 0 none
sums undisturbed >want
total=$(wc -l <starts)
[ "$total" -ge 20 ] && pass "a job of two frames starts $total programs" || fail "a job of two frames starts $total programs" "$(cat out err)"

for how in kill fail; do
    bad=''
    for ((k = 1; k <= total; k++)); do
        rm -rf job && cp -a plain job
        go job $k $how
        first=$?
        go job 0 none
        second=$?
        sums job | cmp -s - want || bad+=" $k:bytes"
        [ $second -eq 0 ] || bad+=" $k:status$second"
        # A run that ends with 0 has made every picture by every step.
        [ $first -eq 2 ] || { [ $first -eq 0 ] && [ "$how" = kill ] && false; } || bad+=" $k:first$first"
    done
    [ -z "$bad" ] && pass "each of $total starts spoilt once ($how): said with 2, healed by the next run" || fail "each of $total starts spoilt once ($how)" "$bad"
done
finish
