#!/usr/bin/env bash
# A job of two frames is disturbed once at each point: every program is killed as it starts, every file
# before it is renamed into place, and every file that is written finds the disk full. A run ends with 0
# only with the right pictures, and the next run mends all, to the same bytes. CARN_SWEEP=all takes every
# point (make check); else a few of each kind, spread over the run.
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"

case $CARN_BUILD in
*sanitized*)
    skip "faults" "a sanitizer wants to be the first library"
    finish
    ;;
esac
shim=$CARN_BUILD/tests/fault.so

# Two frames of a singer, the first with the card; where the second one's face is is found.
mkdir -p plain/frames
printf 'frame\tsubject\tcamera\tcard\tapproved\n' >plain/job.tsv
printf 'frame\tpatch\ttone\tx\ty\tw\th\n' >plain/patches.tsv
printf 'include $(or $(CARN_RULES),$(shell carn-job --rules))\n' >plain/Makefile
add plain a.tif birk north a.tif --seed 1
add plain b.tif birk north a.tif --seed 2
sed -i '/^b\.tif/d' plain/patches.tsv
originals() { (cd "$1/frames" && sha256sum -- *); }
originals plain >originals.want
undisturbed

# with KIND N: the run of ./job, with that fault.
# shellcheck disable=SC2317 # called by point, as below
with() {
    LD_PRELOAD=$shim CARN_FAULT="$1 $2 $PWD/count" timeout 300 carn-job -j 1 job >out 2>err
}
# shellcheck disable=SC2317
right() { sums job | cmp -s - "$T/want" && originals job | cmp -s - "$T/originals.want"; }

# point KIND N: the run with it, and the next, in a folder of its own; says what does not heal.
# shellcheck disable=SC2317
point() {
    local got=0 bad='' left
    mkdir "$1-$2" && cp -a plain "$1-$2/job" && cd "$1-$2" || exit 1
    with "$1" "$2" || got=$?
    [ "$got" -ne 0 ] || right || bad="; status 0 with other pictures"
    got=0
    timeout 300 carn-job -j 1 job >out 2>err || got=$?
    [ "$got" -eq 0 ] || bad="$bad; the next run ends with $got"
    right || bad="$bad; the next run gives other bytes: $(sums job | diff - "$T/want" | grep '^[<>]' | cut -c 1,68- | sort -u | head -n 6 | tr '\n' ' ')"
    left=$(find job -name '*.part' -o -name '.carn-*')
    [ -z "$left" ] || bad="$bad; leavings: $left"
    printf '%s %s: %s\n' "$1" "$2" "${bad:-heals}"
    [ -n "$bad" ] || rm -rf "${T:?}/$1-$2"
}
export -f with right point sums originals
export T shim

for kind in start move full; do
    rm -rf job count && cp -a plain job
    with $kind 0
    total=$(od -An -tu8 -N8 count | tr -d ' ')
    [ "${CARN_SWEEP:-}" = all ] && step=1 || step=$((total / 3))
    points=$(seq $((step > 1 ? step / 2 : 1)) "$step" "$total")
    seen=$(xargs -P "$(nproc)" -I @ bash -c 'point "$0" @' $kind <<<"$points" 2>/dev/null)
    name="$kind: $(wc -l <<<"$points") of $total points, and the next run heals"
    [ "$(grep -c ': heals$' <<<"$seen")" -eq "$(wc -l <<<"$points")" ] && pass "$name" || fail "$name" "$(grep -v ': heals$' <<<"$seen")"
done
finish
