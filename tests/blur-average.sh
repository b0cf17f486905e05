#!/usr/bin/env bash
# carn-blur-average as people run it: usage, keys, channels, streams of frames, broken input.
# shellcheck disable=SC2317 # the functions are called through check
. "$(dirname "$0")/lib.sh"

blur="$BIN/carn-blur-average"

# frame NAME WIDTH HEIGHT DEPTH TUPLTYPE LETTER [KEY-LINE]: a flat frame, every byte of it LETTER.
frame() {
    printf 'P7\n#@ name %s\n' "$1"
    if [ -n "${7-}" ]; then printf '%s\n' "$7"; fi
    printf 'WIDTH %d\nHEIGHT %d\nDEPTH %d\nMAXVAL 65535\nTUPLTYPE %s\nENDHDR\n' "$2" "$3" "$4" "$5"
    head -c $(($2 * $3 * $4 * 2)) /dev/zero | tr '\0' "$6"
}

# run INPUT OUTPUT ARGS...: the program from file to file.
run() {
    from=$1 to=$2
    shift 2
    "$blur" "$@" <"$from" >"$to" 2>"$T/blur.err" && [ ! -s "$T/blur.err" ]
}

# fails TEXT INPUT ARGS...: status 2 and one line on standard error, which holds TEXT.
fails() {
    text=$1 from=$2
    shift 2
    rc=0
    "$blur" "$@" <"$from" >"$T/blur.out" 2>"$T/blur.err" || rc=$?
    [ "$rc" -eq 2 ] && [ "$(wc -l <"$T/blur.err")" -eq 1 ] && grep -qF -e "$text" "$T/blur.err"
}

# As fails, with nothing on standard output.
refuses() {
    fails "$@" && [ ! -s "$T/blur.out" ]
}

# has FILE LINE: one of its header lines.
has() {
    grep -aqxF -e "$2" "$1"
}

# flat FILE LETTER COUNT: after the first header, COUNT times LETTER and nothing else.
flat() {
    head -c "$3" /dev/zero | tr '\0' "$2" >"$T/expected"
    sed '1,/^ENDHDR$/d' "$1" | cmp -s - "$T/expected"
}

frame a.tif 40 30 3 RGB U '#@ resolution 300 300 inch' >"$T/a.pam"
frame b.tif 12 9 5 RGB_ALPHA_WEIGHT k >"$T/b.pam"
cat "$T/a.pam" "$T/b.pam" >"$T/ab.pam"

# ---- usage ----
check "--help" "$blur" --help
check "--version" "$blur" --version
check "neither -s nor -w is refused" refuses "either -s SIGMA or -w WIDTH" "$T/a.pam"
check "both -s and -w are refused" refuses "either -s SIGMA or -w WIDTH" "$T/a.pam" -s 2 -w 10
for sigma in 0 -1 nan inf x '' % 0% 101% 10001 1e400 '2 px'; do
    check "sigma '$sigma' is refused" refuses "sigma: '" "$T/a.pam" -s "$sigma"
done
printf 'P5\n20000 20000\n255\n' >"$T/huge.pgm"
check "a percentage that makes too large a sigma is refused" refuses "more than 10000" \
    "$T/huge.pgm" -s 51%
for width in 0 -4 1.5 nan x '' 10% 1e30; do
    check "width '$width' is refused" refuses "width: '" "$T/a.pam" -w "$width"
done
check "a file operand is refused" refuses "'a.pam'" "$T/a.pam" -s 2 a.pam
check "a file operand after - is refused" refuses "'a.pam'" "$T/a.pam" -s 2 - a.pam
check "an unknown option is refused" refuses "-x" "$T/a.pam" -x
check "an option without its argument is refused" refuses "-s" "$T/a.pam" -s

# ---- Gaussian ----
check "a blur" run "$T/a.pam" "$T/blur.pam" -s 2.5
check "flat stays flat" flat "$T/blur.pam" U 7200
check "it says how it was smoothed" has "$T/blur.pam" '#@ smoothed gaussian 2.5'
check "other keys pass" has "$T/blur.pam" '#@ resolution 300 300 inch'
check "no full key from a blur" sh -c "! grep -aq '#@ full' '$T/blur.pam'"
check "percent of the shorter side" run "$T/a.pam" "$T/percent.pam" --sigma 10%
check "percent is told in pixels" has "$T/percent.pam" '#@ smoothed gaussian 3'
check "- is standard input" run "$T/a.pam" "$T/dash.pam" -s 2.5 -
check "the same input gives the same bytes" cmp "$T/blur.pam" "$T/dash.pam"
check "alpha and weight are blurred too" run "$T/b.pam" "$T/five.pam" -s 2.5
check "five channels stay five" has "$T/five.pam" 'TUPLTYPE RGB_ALPHA_WEIGHT'
check "five flat channels stay flat" flat "$T/five.pam" k 1080
cat "$T/blur.pam" "$T/five.pam" >"$T/expected.pam"
check "two frames in one stream" run "$T/ab.pam" "$T/two.pam" -s 2.5
check "come out as each alone" cmp "$T/expected.pam" "$T/two.pam"
printf 'P5\n2 1\n255\n\000\377' >"$T/eight.pgm"
check "8-bit grey" run "$T/eight.pgm" "$T/eight.pam" -s 0.1
check "keeps its depth" has "$T/eight.pam" '#@ depth 8'
printf '\000\000\377\377' >"$T/wide"
check "is widened exactly" sh -c "tail -c 4 '$T/eight.pam' | cmp - '$T/wide'"
printf 'P5\n3 1\n65535\n\000\000\377\377\000\000' >"$T/point.pgm"
check "a point" run "$T/point.pgm" "$T/point.pam" -s 1
# 65535 / sqrt(2 pi), and exp(-1/2) times that.
check "spreads as the Gaussian says" sh -c "tail -c 6 '$T/point.pam' | od -An -v -tu1 |
    awk '{ for (i = 1; i < 6; i += 2) v[i] = \$i * 256 + \$(i + 1) }
         END { exit !(v[3] == 26145 && v[1] == 15858 && v[5] == 15858) }'"

# ---- averaging down ----
check "averaging" run "$T/a.pam" "$T/small.pam" -w 9
check "has the width" has "$T/small.pam" 'WIDTH 9'
check "has the height in proportion" has "$T/small.pam" 'HEIGHT 7'
check "says the full size" has "$T/small.pam" '#@ full 40 30'
check "says it is smoothed" has "$T/small.pam" '#@ smoothed average'
check "averaged flat stays flat" flat "$T/small.pam" U 378
check "averaging twice" run "$T/small.pam" "$T/smaller.pam" --width 3
check "keeps the first full size" has "$T/smaller.pam" '#@ full 40 30'
check "keeps account of both" has "$T/smaller.pam" '#@ smoothed average, average'
check "a frame of that width" run "$T/small.pam" "$T/same.pam" -w 9
check "passes unchanged" cmp "$T/small.pam" "$T/same.pam"
check "a narrower frame" run "$T/small.pam" "$T/same.pam" -w 4000
check "passes unchanged, not enlarged" cmp "$T/small.pam" "$T/same.pam"
check "wide and narrow in one stream" run "$T/ab.pam" "$T/mixed.pam" -w 20
check "only the wide one shrinks" sh -c "grep -ac '^#@ smoothed' '$T/mixed.pam' | grep -qx 1"
printf 'P5\n4 1\n65535\n\000\000\000\144\000\310\001\054' >"$T/ramp.pgm"
check "a ramp" run "$T/ramp.pgm" "$T/ramp.pam" -w 3
# 0 100 200 300 over 4/3 pixels each: 25, 150, 275.
printf '\000\031\000\226\001\023' >"$T/means"
check "partly covered pixels count by their part" sh -c "tail -c 6 '$T/ramp.pam' | cmp - '$T/means'"

# ---- the key smoothed has a bound ----
cp "$T/b.pam" "$T/often.pam"
many() {
    for _ in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20; do
        run "$T/often.pam" "$T/next.pam" -s 0.25 && mv "$T/next.pam" "$T/often.pam" || return 1
    done
}
check "smoothing 20 times" many
check "ends the account with more" sh -c "sed '/^ENDHDR\$/,\$d' '$T/often.pam' |
    awk '/^#@ smoothed /{ t = substr(\$0, 13); on = 1; next }
         /^#@\\+ /{ if (on) t = t substr(\$0, 5); next }
         { on = 0 }
         END { exit !(length(t) <= 200 && t ~ /, more\$/ && t !~ /more, more/) }'"

# ---- trouble ----
: >"$T/empty.pam"
head -c 5000 "$T/a.pam" >"$T/cut.pam"
cat "$T/b.pam" "$T/cut.pam" >"$T/second-cut.pam"
cat "$T/a.pam" "$T/small.pam" >"$T/junk.pam"
printf 'junk' >>"$T/junk.pam"
frame zero.tif 0 30 3 RGB U >"$T/zero.pam"
for args in '-s 2' '-w 9' '-w 4000'; do
    # shellcheck disable=SC2086 # two words on purpose
    {
        check "$args: empty input" refuses "empty" "$T/empty.pam" $args
        check "$args: a cut frame" fails "a.tif: frame cut short" "$T/cut.pam" $args
        check "$args: a cut second frame" fails "a.tif: frame cut short" "$T/second-cut.pam" $args
        check "$args: junk after the frames" fails "not a frame" "$T/junk.pam" $args
        check "$args: no width" refuses "WIDTH" "$T/zero.pam" $args
        check "$args: a full disk" sh -c "'$blur' $args <'$T/a.pam' >/dev/full 2>'$T/blur.err'
            [ \$? -eq 2 ] && [ \"\$(wc -l <'$T/blur.err')\" -eq 1 ]"
        check "$args: a closed output" sh -c "'$blur' $args <'$T/a.pam' >&- 2>'$T/blur.err'; [ \$? -eq 2 ]"
    }
done

# ---- memory ----
# 86 MB of frame in 40 MB of address space: rows have to do. Not where a checking build needs more.
limited() {
    # shellcheck disable=SC3045 # dash, bash and busybox have it; elsewhere the test is left out
    (ulimit -v 40000 && "$@")
}
large() {
    {
        printf 'P6\n9504 1500\n65535\n'
        head -c 85536000 /dev/zero
    } | limited "$blur" "$@" >"$T/blur.out" 2>"$T/blur.err" && [ ! -s "$T/blur.err" ]
}
if limited "$blur" --version >/dev/null 2>&1; then
    check "rows, not frames, in memory: sigma 12" large -s 12
    check "rows, not frames, in memory: width 1500" large -w 1500
else
    skip "rows, not frames, in memory" "this build needs more addresses"
fi

finish
