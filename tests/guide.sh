#!/usr/bin/env bash
# A filter is added as docs/guide.md says: the smallest copied, the program printed there put in its
# place, make; its result is netpbm's. And the recipes run as they are printed.
# shellcheck disable=SC2317 # the functions are called through check
. "$(dirname "$0")/lib.sh"

# A tree of links with tools of its own, and the library as it is built.
mkdir tree b
ln -s "$TOP"/{lib,tests,scripts,docs,Makefile} tree
cp -rp "$TOP/tools" tree
cp -rp "$CARN_BUILD"/{lib,libcarnation.a} b
flags=() # as the library was built, where a caller of make said so
for name in CC CFLAGS LDFLAGS; do [ -z "${!name:-}" ] || flags+=("$name=${!name}"); done
make_it() { (cd tree && env -u MAKEFLAGS -u MFLAGS -u MAKELEVEL make -s B="$T/b" WERROR=-Werror "${flags[@]}" "$T/b/bin/carn-$1"); }

smallest=$(grep -lZ 'frame/stream.h' tree/tools/*.c | xargs -0 wc -l | sort -n | head -n 1)
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

# ---- the recipes ----
mkdir recipes
cd recipes || exit 1
printf 'frame\tpatch\ttone\tx\ty\tw\th\n' >cards.tsv
for camera in north south; do
    for singer in birk goro; do
        "$SCENE" -s $singer --camera $camera -w 192 -h 256 -n shot.tif | carn-encode "$camera-$([ $singer = birk ] && echo 02-birk || echo 07-goro).tif"
    done
    "$SCENE" --camera $camera --card -w 192 -h 256 -n $camera-card.tif | carn-encode $camera-card.tif
    "$SCENE" --camera $camera --card -n $camera-card.tif --patches | awk -F '\t' '$3 == "card"' >>cards.tsv
done
# recipe N: its lines, without the fences.
recipe() { awk -v want="### $1. " '/^##/ { on = index($0, want) == 1; next } on && /^```/ { inside = !inside; next } on && inside' "$TOP/docs/guide.md"; }
for n in 1 2 3 4 5 6 8 9 10; do
    recipe $n >"$n.sh"
    lines=$(wc -l <"$n.sh")
    [ "$lines" -ge 1 ] && [ "$lines" -le 11 ] && pass "recipe $n is short" || fail "recipe $n is short" "$lines lines"
done
run_recipe() { bash -euo pipefail "$1.sh"; }
check "recipe 1: a picture as aim" run_recipe 1
check "recipe 1 delivers a JPEG" test -s birk.jpg
check "recipe 2: two evenings" run_recipe 2
sed 's/^south-02-birk.tif/*/' south.patches >matched.patches
carn-decode matched.tif | carn-sample -q -p matched.patches >matched.readings
check "recipe 2: the evenings meet" carn-differ -t 1.5 north.readings matched.readings
check "recipe 3: another program" run_recipe 3
carn-decode mirrored.tif >mirrored.pam
carn-decode north-02-birk.tif >birk.pam
is "recipe 3 keeps the profile" "$(sed -n '/^#@ icc/,/^WIDTH/p' mirrored.pam | head -n 2 | cksum)" "$(sed -n '/^#@ icc/,/^WIDTH/p' birk.pam | head -n 2 | cksum)"
if needs "recipe 4 corrects every frame" parallel; then
    run_recipe 4 >"$T/out" 2>"$T/err" || true
    is "recipe 4 corrects every frame" "$(find . -name 'north-0*-out.jpg' -size +0 | wc -l)" 2
fi
if needs "recipe 5: SQLite" sqlite3; then
    check "recipe 5: SQLite" run_recipe 5
    is "recipe 5 lists a row a picture" "$(wc -l <"$T/out")" 4
fi
check "recipe 6: a look by hand" run_recipe 6
check "recipe 6 writes it" test -s look.tif
check "recipe 8: a proof sheet" run_recipe 8
check "recipe 8 writes it" test -s proof.jpg
check "recipe 9: an audit" run_recipe 9
is "recipe 9 tells of what is off alone" "$(cut -d : -f 1 "$T/out" | paste -sd ' ') $(tsv '$h["verdict"] == "off" { print $h["frame"] }' audit.tsv | paste -sd ' ')" \
    "north-02-birk.tif north-07-goro.tif north-02-birk.tif north-07-goro.tif"
python3 10.sh <birk.pam | pamtopnm >python.ppm
pamtopnm <birk.pam | pamflip -lr >netpbm.ppm
same "recipe 10 mirrors as netpbm does" netpbm.ppm python.ppm
finish
