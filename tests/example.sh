#!/usr/bin/env bash
# The filter printed in carn-frame(5): it is whole, compiles without a warning, and does what the
# page says with our streams.
# shellcheck disable=SC2317 # the functions are called through check
. "$(dirname "$0")/lib.sh"

page=$TOP/docs/carn-frame.5
# The page's lines between the marks, mdoc's escapes undone.
awk '/^\.\\" example begin/ { on = 1; next } /^\.\\" example end/ { on = 0 } on && !/^\.(Bd|Ed)/' "$page" |
    sed -e 's/^\\&//' -e 's/\\e/\\/g' >"$T/frame-clipped.c"

check "the example compiles without a warning" "${CC:-gcc}" -std=c17 -O1 -Wall -Wextra -Wpedantic \
    -Werror -Wconversion -o "$T/frame-clipped" "$T/frame-clipped.c"

if needs "the page shows the program as it is" mandoc; then
    mandoc -T ascii -O width=120 "$page" | sed 's/.\x08//g' |
        awk '/^ *\/\* frame-clipped:/ { on = 1 } /^[A-Z]/ { on = 0 } on' | sed 's/^     //' |
        sed -e :a -e '/^\n*$/{$d;N;ba' -e '}' >"$T/shown.c"
    same "the page shows the program as it is" "$T/frame-clipped.c" "$T/shown.c"
fi

# header NAME DEPTH TUPLTYPE: of a frame of two pixels.
header() {
    printf 'P7\n#@ name %s\n#@ depth 16\n# made by hand\n#@ icc AAAA\n#@+ BBBB\n' "$1"
    printf 'WIDTH 2\nHEIGHT 1\nDEPTH %d\nMAXVAL 65535\nTUPLTYPE %s\nENDHDR\n' "$2" "$3"
}
{
    header north-01-aino.tif 3 RGB
    printf '\377\377aabbccddee'
    header south-01-aino.tif 5 RGB_ALPHA_WEIGHT
    printf '\0\0aabb\377\377ww\0\0aabb\377\376ww'
} >"$T/in.pam"
{
    header north-01-aino.tif 3 RGB
    printf '\377\377\0\0\377\377ccddee'
    header south-01-aino.tif 5 RGB_ALPHA_WEIGHT
    printf '\377\377\0\0\377\377\377\377ww\0\0aabb\377\376ww'
} >"$T/want.pam"
example() { "$T/frame-clipped" <"$1" >"$2"; }
check "two frames" example "$T/in.pam" "$T/out.pam"
same "clipped pixels are painted, all else passes, comments too" "$T/want.pam" "$T/out.pam"

# Between our own programs: the left half of each frame is clipped.
mkdir "$T/shoot"
for name in north-01-aino south-01-aino; do
    { printf 'P6 40 20 255\n' && awk 'BEGIN { for (i = 0; i < 800; i++) printf i % 40 < 20 ? "\377~o" : "~op" }'; } \
        >"$T/shoot/$name.ppm"
done
printf 'frame\tpatch\tx\ty\tw\th\n*\tclipped\t0%%\t0%%\t50%%\t100%%\n*\twhole\t50%%\t0%%\t50%%\t100%%\n' >"$T/patches.tsv"
pipeline() { carn-decode "$T"/shoot/*.ppm | "$T/frame-clipped" | carn-sample -p "$T/patches.tsv" >"$T/readings"; }
check "between carn-decode and carn-sample" pipeline
holds "clipped pixels measure as magenta, the others as they were" \
    'c["patch"] == "clipped" ? c["red"] == 1 && c["green"] == 0 && c["blue"] == 1 : abs(c["red"] - 126 / 255) < 1e-5' \
    "$T/readings"
if [ "$(wc -l <"$T/readings")" -eq 5 ]; then pass "both frames arrive"; else fail "both frames arrive"; fi

# A cut anywhere but between the frames is trouble.
first=$(($(header north-01-aino.tif 3 RGB | wc -c) + 12))
bad=''
for ((n = 0; n < $(wc -c <"$T/in.pam"); n++)); do
    got=0
    head -c "$n" "$T/in.pam" | "$T/frame-clipped" >"$T/out" 2>"$T/err" || got=$?
    want=2
    [ "$n" -ne "$first" ] || want=0
    [ "$got" -eq "$want" ] || bad+=" $n:$got"
done
if [ -z "$bad" ]; then pass "a cut stream gives status 2"; else fail "a cut stream gives status 2" "bytes:status$bad"; fi
head -c "$((first - 5))" "$T/in.pam" >"$T/cut.pam"
status 2 "a cut frame" example "$T/cut.pam" "$T/out.pam"
says "names the frame and the missing bytes" 'north-01-aino.tif: frame cut short, 5 bytes are missing'
status 2 "a full disk" example "$T/in.pam" /dev/full
finish
