#!/usr/bin/env bash
# A filter is added as docs/guide.md says: the smallest copied, the program printed there put in its
# place, make; its result is netpbm's.
# shellcheck disable=SC2317 # the functions are called through check
. "$(dirname "$0")/lib.sh"
cd "$T" || exit 1

# A tree of links with tools of its own, and the library as it is built.
mkdir tree b
ln -s "$TOP"/{lib,tests,scripts,docs,Makefile} tree
cp -rp "$TOP/tools" tree
cp -rp "$CARN_BUILD"/{lib,libcarnation.a} b
flags=() # as the library was built, where a caller of make said so
for name in CC CFLAGS LDFLAGS; do [ -z "${!name:-}" ] || flags+=("$name=${!name}"); done
make_it() { (cd tree && env -u MAKEFLAGS -u MFLAGS -u MAKELEVEL make -s B="$T/b" WERROR=-Werror "${flags[@]}" "$T/b/bin/carn-$1"); }

smallest=$(grep -lZ 'frame/stream.h' tree/tools/*.c | xargs -0 wc -l | LC_ALL=C sort -n | head -n 1)
is "the guide copies the smallest raster filter" "${smallest##*/}" "$(sed -n 's|^ *cp tools/\(.*\) tools/channel-invert.c|\1|p' "$TOP/docs/guide.md")"
[ "$(echo "$smallest" | awk '{ print $1 }')" -lt 80 ] && pass "it has under 80 lines" || fail "it has under 80 lines" "$smallest"
cp tree/tools/weight-show.c tree/tools/channel-invert.c
check "the copy makes a program" make_it channel-invert

awk '/^```c$/ { on = 1; next } /^```$/ { on = 0 } on' "$TOP/docs/guide.md" >tree/tools/channel-invert.c
[ "$(wc -l <tree/tools/channel-invert.c)" -lt 80 ] && pass "the new one has under 80 lines" || fail "the new one has under 80 lines"
touch -d '+1 second' tree/tools/channel-invert.c
check "it compiles without a warning" make_it channel-invert

invert() { "$T/b/bin/carn-channel-invert" "$@"; }
"$SCENE" -s aino -w 120 -h 160 -n one.tif >one.pam
"$SCENE" -s lamin --camera south -w 96 -h 128 -n two.tif >two.pam
for channel in 0 1 2; do
    cat one.pam two.pam | invert -c "$channel" >inverted.pam
    for frame in one two; do
        for plane in 0 1 2; do
            pamchannel -tupletype GRAYSCALE $plane <"$frame.pam" | pamtopnm |
                if [ "$plane" -eq "$channel" ]; then pnminvert; else cat; fi >"$frame-$plane.pgm"
        done
        pamstack -quiet -tupletype RGB "$frame"-{0,1,2}.pgm
    done | pamtopnm >netpbm.ppm
    pamtopnm <inverted.pam >ours.ppm
    same "channel $channel of two frames, as netpbm has it" netpbm.ppm ours.ppm
done
invert -c 1 <one.pam | invert -c 1 >back.pam
same "twice is as before, keys and all" one.pam back.pam
invert_one() { invert "$@" <one.pam; }
refused_by() { status 2 "$1" invert_one "${@:2}" && says "$1, in one line" '^carn-channel-invert: .*[^ ]$' && is "$1, without output" "$(wc -c <"$T/out")" 0; }
refused_by "no such channel" -c 3
refused_by "a channel below 0" -c -1
refused_by "an operand" one.pam
finish
