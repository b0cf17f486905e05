#!/usr/bin/env bash
# The face detector's weights and the reference outputs are made again from the published package,
# where npm reaches it: the same bytes.
. "$(dirname "$0")/lib.sh"

package=@mediapipe/face_detection@0.4.1657300184
recipe=$TOP/lib/data/face-detector.recipe
if ! have npm || ! timeout 120 npm pack --silent "$package" >packed 2>npm.err; then
    skip "the weights, made again" "npm does not reach $package"
    skip "the reference outputs, made again" "npm does not reach $package"
    finish
fi
tar -xzf "$(tail -n 1 packed)"
model=package/face_detection_short_range.tflite
sum=$(sha256sum "$model" | cut -d ' ' -f 1)
grep -q "$sum" "$recipe" && grep -q "$package" "$recipe" && pass "the recipe names the package and its file's checksum" || fail "the recipe names the package and its file's checksum" "$sum"
"$TOP/scripts/detector-weights" made.net "$model" 2>err || fail "the converter runs" "$(cat err)"
same "the weights, made again, have the same bytes" made.net "$TOP/lib/data/face-detector.net"
grep -q "$(sha256sum <made.net | cut -d ' ' -f 1)" "$recipe" && pass "whose checksum the recipe names" || fail "whose checksum the recipe names"
head -c 100000 "$model" >cut.tflite
"$TOP/scripts/detector-weights" none.net cut.tflite 2>err
[ $? -ne 0 ] && [ ! -e none.net ] && pass "another file is refused" || fail "another file is refused" "$(cat err)"
if /usr/bin/python3 -c 'import numpy' 2>/dev/null; then
    "$TOP/tests/detector/reference.py" "$model" >reference.tsv 2>err
    # The last digits of sums of floats differ between versions of numpy.
    paste reference.tsv "$DATA/face_detector_reference.tsv" | awk -F '\t' 'NR > 2 { n++; if (NF != 38) bad++; for (i = 1; i <= 19; i++) { d = $i - $(19 + i); if (d * d > 1e-8) bad++ } } END { exit n != 240 || bad > 0 }' &&
        pass "the reference outputs, made again, are the same" || fail "the reference outputs, made again, are the same" "$(cat err)"
else
    skip "the reference outputs, made again" "python3-numpy is not there"
fi
finish
