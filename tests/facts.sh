#!/usr/bin/env bash
# carn-facts against what exiftool wrote, in every format, and against hostile Exif.
. "$(dirname "$0")/lib.sh"
fact() { carn-facts -- "$1" 2>/dev/null >facts; cell facts "$2"; }

"$SCENE" -w 128 -h 160 -n a >a.pam
carn-encode -b 16 a.tif <a.pam
carn-encode -b 8 a.png <a.pam
carn-encode -b 8 a.jpg <a.pam
check "a file without Exif" carn-facts a.tif
is "size, depth, orientation" "$(cell out width) $(cell out height) $(cell out depth) $(cell out orientation) $(cell out alpha)" "128 160 16 1 no"
is "the rest is not known" "$(cell out model)$(cell out iso)$(cell out time)" "---"
is "its profile by name and sum" "$(cell out profile | grep -c '^.*/[0-9a-f]\{8\}$')" 1
refused "no file" carn-facts
head -c 300 a.png >cut.png
status 2 "an unreadable file among others" carn-facts a.tif cut.png nowhere.png a.jpg
is "has its row all the same" "$(tail -n +2 out | cut -f 1,3 | tr '\n\t' ', ')" "a.tif 128,cut.png -,nowhere.png -,a.jpg 128,"
is "and a line each" "$(grep -c '^carn-facts: ' err)" 2
mkdir 'odd $x' && cp a.tif 'odd $x/-da sh%41.tif'
is "a name of any bytes, escaped as tables are" "$(fact 'odd $x/-da sh%41.tif' frame)" '-da sh%2541.tif'

if needs "facts against exiftool" exiftool; then
    for form in tif png jpg; do
        exiftool -q -overwrite_original -Make='Invented  ' -Model='Choir N' -SerialNumber=4711 -LensModel='50 mm f/1.4' -ISO=400 -ExposureTime=0.008 \
            -FNumber=5.6 -ExposureCompensation=-0.33 -EXIF:Flash#=9 -WhiteBalance=Manual -DateTimeOriginal='2026:11:25 19:30:12' -SubSecTimeOriginal=25 \
            -OffsetTimeOriginal=+01:00 -Orientation#=6 a.$form
        carn-facts a.$form >facts 2>err
        is "$form: what exiftool wrote" "$(cut -f 9- facts | tail -n 1 | tr '\t' '|')" \
            'Invented|Choir N|4711|50 mm f/1.4|400|1/125|5.6|-0.33|fired|manual|2026-11-25T19:30:12.25+01:00'
        is "$form: orientation" "$(cell facts orientation)" 6
        # What carn-encode carries over is still there.
        carn-decode a.$form | carn-encode b.$form 2>/dev/null
        carn-facts b.$form 2>/dev/null | cut -f 9- >carried
        is "$form: the same after decode and encode" "$(cut -f 9- facts | diff - carried)" ""
    done
    # One shutter in several forms, and values that are none.
    for pair in 1/60:1/60 0.25:1/4 0.3:0.3 0.5:0.5 30:30 1/8000:1/8000 0:-; do
        exiftool -q -overwrite_original -ExposureTime=${pair%%:*} a.jpg 2>/dev/null
        is "shutter ${pair%%:*}" "$(fact a.jpg shutter)" "${pair#*:}"
    done
    exiftool -q -overwrite_original -EXIF:Flash#=16 -EXIF:DateTimeOriginal#='0000:00:00 00:00:00' -Model="$(printf 'Ä\tB')" a.jpg 2>/dev/null
    is "flash that did not fire, no time, odd bytes in a model" "$(fact a.jpg flash) $(fact a.jpg time) $(fact a.jpg model)" "no - ÄB"

    # Hostile Exif: bytes of the block changed at random but from a fixed seed; never a crash, never
    # long, always one row.
    exiftool -q -overwrite_original -Make=Invented -Model=Choir -LensModel=x a.jpg
    perl -e 'local $/; open my $in, "<:raw", "a.jpg"; my $all = <$in>; srand 1
        ; for my $k (1 .. 150) { my $bad = $all; substr($bad, 20 + int rand 400, 1) = chr int rand 256 for 1 .. 12
            ; open my $out, ">:raw", "h$k.jpg"; print $out $bad }'
    got=0
    timeout 100 carn-facts h*.jpg >facts 2>err || got=$?
    { [ $got -eq 0 ] || [ $got -eq 2 ]; } && [ "$(awk -F '\t' 'NF == 19' facts | wc -l)" -eq 151 ]
    bad=$?
    is "150 damaged blocks: a row each, no crash" "$bad $(find . -name "h*.jpg" -size +0 | wc -l)" "0 150"
fi
finish
