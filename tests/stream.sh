#!/usr/bin/env bash
# The frame stream (carn-frame(5)): ours read by netpbm, GraphicsMagick and ffmpeg, theirs by ours.
. "$(dirname "$0")/lib.sh"

# Noise, so that a lost or swapped sample shows; without P, which ffmpeg takes for a new frame.
noise() { # WIDTH HEIGHT CHANNELS BYTES: samples from a fixed generator
    awk -v n=$(($1 * $2 * $3 * $4)) 'BEGIN { s = 4711; for (i = 0; i < n; i++) { s = (s * 16807) % 2147483647; v = int(s / 65536) % 255 + 1; printf "%c", v == 80 ? 81 : v } }'
}
{ printf 'P6\n17 13\n65535\n' && noise 17 13 3 2; } >rgb.ppm
{ printf 'P5\n17 13\n65535\n' && noise 17 13 1 2; } >grey.pgm
{ printf 'P7\nWIDTH 17\nHEIGHT 13\nDEPTH 4\nMAXVAL 65535\nTUPLTYPE RGB_ALPHA\nENDHDR\n' && noise 17 13 4 2; } >alpha.pam
printf 'P4\n11 3\n\001\002\003\377\360\017' >bits.pbm

for form in rgb.ppm grey.pgm alpha.pam; do
    carn-decode "$form" 2>/dev/null >"${form%.*}.stream"
    pamtopam <"${form%.*}.stream" 2>/dev/null | tail -c "$(($(wc -c <"$form") - 20))" >netpbm.tail
    tail -c "$(($(wc -c <"$form") - 20))" "$form" >source.tail
    same "netpbm reads our $form and finds its samples" netpbm.tail source.tail
done
tail -c $((17 * 13 * 6)) rgb.ppm >source.raw
gm convert rgb.stream ppm:- 2>err | tail -c $((17 * 13 * 6)) >gm.raw
same "GraphicsMagick reads our frame" gm.raw source.raw
ffmpeg -y -v error -f image2pipe -c:v pam -i rgb.stream -f rawvideo -pix_fmt rgb48be ffmpeg.raw </dev/null 2>err
same "ffmpeg reads our frame" ffmpeg.raw source.raw
cat rgb.stream rgb.stream >two.stream
ffmpeg -y -v error -f image2pipe -c:v pam -i two.stream -f rawvideo -pix_fmt rgb48be ffmpeg.raw </dev/null 2>err
cat source.raw source.raw >two.raw
same "ffmpeg reads a stream of two frames" ffmpeg.raw two.raw

# Theirs by ours: through carn-curve-apply with a curve that changes nothing.
printf 'kind\tfrom\tto\nknot\tG 0.5\tG 0.5\n' >same.curve
pass_through() { carn-curve-apply -c same.curve 2>/dev/null | tail -c "$1"; }
ffmpeg -y -v error -f rawvideo -pix_fmt rgb48be -s 17x13 -i source.raw -frames:v 1 -c:v pam -f image2pipe - </dev/null 2>err | pass_through $((17 * 13 * 6)) >theirs.raw
same "ours reads ffmpeg's frame" theirs.raw source.raw
gm convert rgb.ppm pam:- 2>err | pass_through $((17 * 13 * 6)) >theirs.raw
same "ours reads GraphicsMagick's frame" theirs.raw source.raw
pamtopam <rgb.ppm | pass_through $((17 * 13 * 6)) >theirs.raw
same "ours reads netpbm's frame" theirs.raw source.raw

# Every MAXVAL kind widens exactly; netpbm's pamdepth does the same sum.
for maxval in 1 2 3 7 15 100 254 255 256 1000 4095 16383 65534; do
    pamdepth $maxval rgb.ppm >depth.ppm 2>/dev/null
    pamdepth 65535 depth.ppm 2>/dev/null | tail -c $((17 * 13 * 6)) >theirs.raw
    pass_through $((17 * 13 * 6)) <depth.ppm >ours.raw
    same "MAXVAL $maxval widens as netpbm widens it" ours.raw theirs.raw
done
carn-blur-average -w 100 <bits.pbm 2>/dev/null | tail -c 66 >bits.raw
pamdepth 65535 bits.pbm 2>/dev/null | tail -c 66 >theirs.raw
same "a bitmap: 1 is black, rows end at a byte" bits.raw theirs.raw

# Keys in comments pass, unknown ones too, in their order.
printf 'P7\n# plain comment\n#@ name a%%20b.tif\n#@ colourist-note one\n#@+ two\n#@ depth 8\nWIDTH 1\nHEIGHT 1\nDEPTH 3\nMAXVAL 255\nTUPLTYPE RGB\nENDHDR\nabc' >keys.pam
carn-curve-apply -c same.curve <keys.pam 2>/dev/null | grep -a '^#' >keys
printf '#@ name a%%20b.tif\n#@ colourist-note onetwo\n#@ depth 8\n' >want
same "keys are passed on in order, plain comments are not" keys want
depth_of() { { printf 'P7\nWIDTH 1\nHEIGHT 1\nDEPTH 3\nMAXVAL %s\nTUPLTYPE RGB\nENDHDR\n' "$1" && printf '%0*d' "$2" 0 | tr 0 '\0'; } | carn-curve-apply -c same.curve 2>/dev/null | grep -a '^#@ depth'; }
is "a MAXVAL of one byte is a depth of 8, of two 16" "$(depth_of 255 3) $(depth_of 256 6)" "#@ depth 8 #@ depth 16"
"$SCENE" -w 96 -h 96 -n 'two words %.tif' >scene.pam
carn-curve-apply -c same.curve <scene.pam >through.pam
same "a frame through a curve that changes nothing is the same in every byte" through.pam scene.pam
if awk 'length($0) > 75 && /^#/ { bad = 1 } /^ENDHDR/ { exit bad }' scene.pam; then pass "header lines hold at most 76 bytes"; else fail "header lines hold at most 76 bytes"; fi

# What is no frame stream: told for what it is by the first reader of every program.
refused_stream() { # NAME PATTERN
    local program
    for program in "carn-curve-apply -c same.curve" "carn-blur-average -s 1" "carn-sample -p p.tsv"; do
        # What came before the trouble may be out already, never a frame that is whole.
        # shellcheck disable=SC2086 # a command and its options
        status 2 "$1: ${program%% *}" $program <broken
        complaints err
        is "$1: ${program%% *} says so in one line" "$said $(grep -c "$2" err)" "1 1"
    done
}
printf 'frame\tpatch\tx\ty\tw\th\n*\tall\t0\t0\t100%%\t100%%\n' >p.tsv
header() { printf 'P7\nWIDTH %s\nHEIGHT %s\nDEPTH %s\nMAXVAL %s\nTUPLTYPE %s\nENDHDR\n' "$@"; }
: >broken
refused_stream "an empty stream" "empty, there is no frame"
echo 'hello, world' >broken
refused_stream "no magic" "not a frame stream"
head -c 700 <(header 17 13 3 65535 RGB; cat source.raw) >broken
refused_stream "a frame cut short" "frame cut short in row 7 of 13, 689 bytes are missing"
{ header 17 13 3 65535 RGB; cat source.raw; echo junk; } >broken
refused_stream "junk after a frame" "not a frame stream"
header 0 13 3 65535 RGB >broken
refused_stream "no width" "WIDTH is '0', not a number from 1"
header 99999999999 13 3 65535 RGB >broken
refused_stream "a huge width" "WIDTH is '99999999999', not a number from 1"
header 17 13 3 65536 RGB >broken
refused_stream "a MAXVAL over 65535" "MAXVAL is over 65535"
header 17 13 4 65535 RGB >broken
refused_stream "a DEPTH that contradicts TUPLTYPE" "TUPLTYPE 'RGB' with DEPTH 4 is not one of"
header 17 13 3 65535 CMYK >broken
refused_stream "an unknown TUPLTYPE" "TUPLTYPE 'CMYK' with DEPTH 3 is not one of"
{ header 2 1 3 100 RGB; printf 'abcde\377'; } >broken
refused_stream "a sample over MAXVAL" "a sample of 255 is over the frame's MAXVAL of 100"
printf 'P7\n#@ name x\n#@ name y\nWIDTH 1\nHEIGHT 1\nDEPTH 3\nMAXVAL 255\nENDHDR\nabc' >broken
refused_stream "a key that stands twice" "the key 'name' stands twice"
# A key that has not its form is never read as another value: neither as none nor as what it begins with.
while IFS='|' read -r key form values; do
    IFS=, read -ra each <<<"$values"
    for value in "" "${each[@]}"; do
        printf 'P7\n#@ name x.tif\n#@ %s %s\nWIDTH 1\nHEIGHT 1\nDEPTH 3\nMAXVAL 255\nENDHDR\nabc' "$key" "$value" >broken
        one=0
        for program in "carn-curve-apply -c same.curve" "carn-decode -" "carn-encode -t tif -"; do
            # shellcheck disable=SC2086 # a command and its options
            got=0 && $program <broken >out 2>err || got=$?
            complaints err
            [ "$got $said" = "2 1" ] && [ ! -s out ] && grep -qF "x.tif: $key '$value' is not $form" err && one=$((one + 1))
        done
        is "$key '$value' is refused" $one 3
    done
done <<'END'
depth|8 or 16|7,16 bit,0x8,-8
alpha|straight or associated|premultiplied,Associated,associated 
orientation|1 to 8|0,9,-1,6.0,6 
resolution|two numbers over 0 and inch, cm or none|300,300%20300,300%20300%20furlong,0%200%20inch,-1%20-1%20inch,nan%20nan%20inch,1e309%201%20cm,0x10%200x10%20inch,300%20300%20inch%20x
full|a width and a height|128,0 9,-128 -160,+9 +9,9 8 7,9,8 ,99999999999999999999 9,1e3 1e3,18446744073709551615 9
origin|pairs of device and inode|12,-1 -1,a b,1 2 3,1 2 x
END
for value in 'depth 8' 'alpha associated' 'orientation 8' 'resolution 118.11%20118.11%20cm' 'resolution 1 2 none' 'full 9504 6336' 'origin 66306%2012%2066306%2013' 'origin 1 2'; do
    printf 'P7\n#@ %s\nWIDTH 1\nHEIGHT 1\nDEPTH 3\nMAXVAL 255\nENDHDR\nabc' "$value" >sound.pam
    check "'$value' is sound" carn-curve-apply -c same.curve <sound.pam
    is "and passes" "$(grep -acF "#@ $value" out)" 1
done
# An empty name is told as none, and names no file.
printf 'P7\n#@ name \nWIDTH 1\nHEIGHT 1\nDEPTH 3\nMAXVAL 255\nENDHDR\nabc' >empty.pam
check "a frame with an empty name" carn-weight-show <empty.pam
says "is told as one without" "^carn-weight-show: note: -: no weight"
head -c -1 empty.pam >broken
refused_stream "an empty name in a frame cut short" ": <stdin>: "
refused "an empty name names no file" carn-encode -t png '{name}' <empty.pam
keys() { # N: a frame of so many keys
    printf 'P7\n#@ depth 8\n' && seq -f '#@ k%g v' 2 "$1" && printf 'WIDTH 1\nHEIGHT 1\nDEPTH 3\nMAXVAL 255\nENDHDR\nabc'
}
keys 1001 >broken
refused_stream "more than 1000 keys" "more than 1000 keys"
keys 1000 >most.pam
check "1000 keys" carn-curve-apply -c same.curve <most.pam
is "come through" "$(grep -c '^#@' out)" 1000
printf 'P7\nWIDTH 1\nHEIGHT 1\nDEPTH 3\nENDHDR\nabc' >broken
refused_stream "no MAXVAL" "no MAXVAL"
{ printf 'P7\n' && yes '# comment' | head -c 20000000; } >broken
refused_stream "a header without end" "frame header is longer than 16777216 bytes"
finish
