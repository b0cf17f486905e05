#!/usr/bin/env bash
# The n-th allocation, read, write, open, close, rename or fsync of every program fails: the very same
# output, or status 2 with one line and no output (tests/fault/sweep.c). FAULTS=all: for every n, as
# `make check` does it; else for some of them, spread over all.
. "$(dirname "$0")/lib.sh"
case $CARN_BUILD in
*sanitized* | *asan*)
    skip "failing calls" "the sanitizers have allocators of their own"
    finish
    ;;
esac
shim=$CARN_BUILD/tests/fault.so
sweep=$CARN_BUILD/tests/sweep
if [ ! -r "$shim" ] || [ "$(uname -sm)" != "Linux x86_64" ]; then
    skip "failing calls" "only on x86-64 Linux with the GNU C library"
    finish
fi
most=4
[ "${FAULTS:-}" != all ] || most=0

# A frame with everything that a file can carry.
{
    printf 'P7\n#@ name x\n#@ depth 8\n#@ orientation 6\n#@ resolution 300%%20300%%20inch\n#@ xmp %s\n' "$(printf '<x:xmpmeta/>' | base64 -w 0)"
    printf '#@ iptc %s\n' "$(printf '\034\002\005\000\003abc' | base64 -w 0)"
    # Exif of an artist and, in its directory, an exposure time.
    printf '#@ exif %s\n' "$(printf 'II*\0\010\0\0\0\002\0\073\001\002\0\003\0\0\0AB\0\0\151\207\004\0\001\0\0\0\046\0\0\0\0\0\0\0\001\0\232\202\005\0\001\0\0\0\070\0\0\0\0\0\0\0\001\0\0\0\175\0\0\0' | base64 -w 0)"
    "$SCENE" -w 96 -h 96 >small.pam
    grep -a '^#@ icc' -A 400 small.pam | grep -aE '^#@(\+| icc)'
    printf 'WIDTH 5\nHEIGHT 3\nDEPTH 3\nMAXVAL 65535\nTUPLTYPE RGB\nENDHDR\n'
    head -c 90 /dev/zero | tr '\0' 'a'
} >all.pam
for form in png jpg pam; do carn-encode all.$form <all.pam 2>/dev/null; done
carn-encode -z lzw all.tif <all.pam
"$SCENE" -w 96 -h 120 --card -n one.tif >one.pam
"$SCENE" -w 96 -h 120 --card -n one.tif --patches >p.tsv
carn-sample -q -p p.tsv <one.pam >readings
carn-curve-neutral readings >neutral.curve 2>/dev/null
carn-curve-solve readings >skin.curve
printf 'frame\tpatch\tx\ty\tw\th\n*\twhole\t0\t0\t100%%\t100%%\n' >whole.tsv
printf 'frame\tsubject\tcamera\n*\tlamin\tnorth\n' >job.tsv
carn-score --before readings readings >scored 2>/dev/null
awk -F '\t' -v OFS='\t' 'NR == 1 { print; next } { $3 = "north"; print; $3 = "south"; print }' readings >both.tsv
printf 'camera\tpatch\trms_L_8\tmottle_a\nnorth\tx\t0.6\t0.3\nsouth\tx\t0.4\t0.3\n' >surface.tsv

printf 'frame\tpatch\ttone\tx\ty\tw\th\n*\tface\tall\t25%%\t20%%\t50%%\t50%%\n' >face.tsv

# FLAGS INPUT OUTPUT COMMAND; - is none; d: libtiff 4.5 dies when an allocation fails while it reads a
# directory (docs/limits.md), r: a file that cannot be read has its row.
while read -r flags input output command; do
    [ -n "$input" ] || continue
    read -ra words <<<"$command"
    options=()
    [ "$flags" = - ] || options+=("-$flags")
    [ "$most" -eq 0 ] || options+=(-m "$most")
    [ "$input" = - ] || options+=(-i "$input")
    [ "$output" = - ] || options+=(-o "$output")
    got=0
    "$sweep" "${options[@]}" "$shim" "${words[@]}" >rows 2>told || got=$?
    cat rows >>table
    if [ $got -eq 0 ] && [ "$(wc -l <rows)" -eq 7 ]; then pass "$command"; else fail "$command" "$(head -c 3000 told)"; fi
done <<'END'
- all.pam new.png carn-encode new.png
- all.pam new.jpg carn-encode new.jpg
- all.pam new.pam carn-encode new.pam
- all.pam new.tif carn-encode -z none new.tif
- one.pam new.tif carn-encode -z deflate new.tif
- one.pam new.png carn-encode new.png
- all.pam - carn-encode -t tif -
- - - carn-decode all.png
- - - carn-decode all.jpg
- - - carn-decode all.pam
d - - carn-decode -j job.tsv --as all.jpg all.tif
rd - - carn-facts all.tif all.png all.jpg
- one.pam - carn-blur-average -s 2
- one.pam - carn-blur-average -w 40
- one.pam - carn-curve-apply -c neutral.curve -c skin.curve
- one.pam - carn-sample -q -p p.tsv
- one.pam - carn-patch-find
- one.pam - carn-skin-weight
- one.pam - carn-skin-weight -r readings
- one.pam - carn-weight-show
- one.pam - carn-to-profile -o bt2020
- one.pam - carn-surface -q -p whole.tsv
- readings - carn-score
- readings - carn-score --before readings
- readings - carn-curve-neutral
- readings - carn-curve-solve
- readings - carn-aim-meet
- - - carn-differ readings readings
- - - carn-compare -s surface.tsv both.tsv
- readings - carn-aim-take house
- one.pam - carn-card-find
- one.pam - carn-crop -p face.tsv
- one.pam - carn-sheet -p face.tsv
END
# Those of job folders have job-sweep.sh; carn-correct runs these filters.
is "every program has failed" "$(cut -f 1 table | sort -u)" "$(cd "$BIN" && printf '%s\n' carn-* | grep -vE '^carn-(job|step|explain|correct)' | sort)"
injected=$(awk -F '\t' '{ n += $4 } END { print n }' table)
[ "$injected" -gt 200 ] && pass "$injected calls failed" || fail "calls failed" "$injected"
awk -F '\t' '
    { for (i = 4; i <= 8; i++) s[$1, $2, i] += $i; if (!seen[$1]++) order[++n] = $1; kinds[$2] }
    END {
        printf "# %-20s %-8s %9s %8s %6s %5s %6s\n", "program", "call", "injected", "refused", "right", "died", "wrong"
        for (k = 1; k <= n; k++) for (j in kinds) if (s[order[k], j, 4])
            printf "# %-20s %-8s %9d %8d %6d %5d %6d\n", order[k], j, s[order[k], j, 4], s[order[k], j, 5], s[order[k], j, 6], s[order[k], j, 7], s[order[k], j, 8]
    }' table
cp table "$CARN_BUILD/faults.tsv"
finish
