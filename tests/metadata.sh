#!/usr/bin/env bash
# What survives each pair of formats: ICC, Exif, XMP, IPTC, resolution and orientation, looked at with
# exiftool, which shares no code with ours. Prints the table of docs/carn-encode.1 as it goes.
. "$(dirname "$0")/lib.sh"
cd "$T" || exit 1
have exiftool || {
    skip "metadata" "no exiftool (libimage-exiftool-perl)"
    finish
}
icc=/usr/share/color/icc/colord/SwappedRedAndGreen.icc
[ -r $icc ] || {
    skip "metadata" "no colord-data"
    finish
}
ffmpeg -v error -y -f lavfi -i testsrc2=size=64x48:rate=1 -frames:v 1 plain.png </dev/null
quietly() { "$@" 2>/dev/null; }

# Everything that is said of a picture but for its layout, its thumbnail and the places of things.
facts() {
    exiftool -n -G1 -a -u --System:all --File:all --ExifTool:all --Composite:all --IFD1:all --PNG:all --PNG-pHYs:all \
        --JFIF:all --ICC_Profile:all --ICC-header:all "$1" |
        grep -avE '\] +(Image (Width|Height)|Bits Per Sample|Compression|Photometric Interpretation|Strip|Samples Per Pixel|Rows Per Strip|Planar Configuration|Predictor|Y Cb Cr|Orientation|Thumbnail|Preview Image|Fill Order)' |
        LC_ALL=C sort
}
# The groups of standards; makers' own move with their notes.
standard='^\[(IFD0|ExifIFD|GPS|InteropIFD|XMP[^]]*|IPTC[^]]*)\]'

quietly carn-decode plain.png | quietly carn-encode base.jpg
cp base.jpg full.jpg
exiftool -q -overwrite_original "-icc_profile<=$icc" -XMP:Title="Tést" -XMP:Rating=3 -IPTC:City="Köln" \
    -IPTC:Keywords=choir -IPTC:Keywords=tour -EXIF:Artist="A B" -EXIF:Orientation#=6 -EXIF:XResolution=300 \
    -EXIF:YResolution=300 -EXIF:ResolutionUnit=inches -EXIF:ExposureTime=1/125 -EXIF:FNumber=28/10 \
    -EXIF:DateTimeOriginal="2024:05:06 07:08:09" -GPSLatitude=50.1 -GPSLatitudeRef=N full.jpg
facts full.jpg >want
exiftool -XMP -b full.jpg >want.xmp
exiftool -IPTC -b full.jpg >want.iptc
printf '| %s |\n' 'from | to | ICC | Exif | XMP | IPTC | resolution | orientation' '--- | --- | --- | --- | --- | --- | --- | ---' >table
for from in png tif jpg pam; do
    quietly carn-decode full.jpg | quietly carn-encode "one.$from"
    for to in png tif jpg pam; do
        quietly carn-decode "one.$from" | quietly carn-encode "two.$to"
        file=two.$to
        [ $to = pam ] && file=three.jpg && quietly carn-decode two.pam | quietly carn-encode three.jpg
        row=()
        exiftool -icc_profile -b $file | cmp -s - $icc && row+=(yes) || row+=(no)
        facts $file >got
        diff want got >differs && row+=(yes) || row+=(no)
        exiftool -XMP -b $file | cmp -s - want.xmp && row+=(yes) || row+=(no)
        exiftool -IPTC -b $file | head -c "$(wc -c <want.iptc)" | cmp -s - want.iptc && row+=(yes) || row+=(no)
        [ "$(exiftool -s3 -n -IFD0:XResolution -IFD0:YResolution -IFD0:ResolutionUnit $file | tr '\n' ' ')" = "300 300 2 " ] && row+=(yes) || row+=(no)
        [ "$(exiftool -s3 -n -IFD0:Orientation $file)" = 6 ] && row+=(yes) || row+=(no)
        (IFS='|'; printf '| %s |\n' "$from|$to|${row[*]}" | sed 's/\([^ ]\)|\([^ ]\)/\1 | \2/g; s/\([^ ]\)|\([^ ]\)/\1 | \2/g') >>table
        case ${row[*]} in *no*) fail "$from to $to" "$(cat differs)" ;; *) pass "$from to $to keeps all" ;; esac
    done
done
sed -n '/^| from/,/^| pam | pam/p' "$TOP/docs/metadata.md" >documented
same "docs/metadata.md has this table" table documented
quietly carn-decode full.jpg | carn-encode bare.ppm 2>notes
[ "$(grep -c 'note: .*left out' notes)" -ge 4 ] && pass "PNM says what it cannot hold" || fail "PNM says what it cannot hold" "$(cat notes)"

# Every orientation; the Exif block agrees with the key.
for n in 1 2 3 4 5 6 7 8; do
    exiftool -q -o "o$n.jpg" -Orientation#=$n full.jpg
    for to in png tif jpg; do
        quietly carn-decode "o$n.jpg" | quietly carn-encode "o.$to"
        [ "$(exiftool -s3 -n -IFD0:Orientation o.$to)" = $n ] && [ "$(quietly carn-decode o.$to | grep -a '^#@ orientation')" = "#@ orientation $n" ] &&
            pass "orientation $n in $to" || fail "orientation $n in $to"
    done
done
# Without any Exif, orientation makes a small block of its own.
exiftool -q -o only.jpg -all= -Orientation#=8 -n full.jpg
exiftool -q -overwrite_original -all= only.jpg && exiftool -q -overwrite_original -Orientation#=8 only.jpg
quietly carn-decode only.jpg | sed '/^#@ exif/d' | quietly carn-encode only.png
[ "$(exiftool -s3 -n -Orientation only.png)" = 8 ] && pass "orientation without Exif" || fail "orientation without Exif"

# Resolution of each kind through each format, to a thousandth.
for said in "72 72 2" "300 150 2" "118.11 118.11 3" "240.5 240.5 2"; do
    read -r x y unit <<<"$said"
    quietly carn-decode plain.png | carn-encode r.tif
    exiftool -q -overwrite_original -n -XResolution="$x" -YResolution="$y" -ResolutionUnit="$unit" r.tif
    for to in png tif jpg; do
        quietly carn-decode r.tif | quietly carn-encode "r.$to.$to"
        quietly carn-decode "r.$to.$to" | grep -a '^#@ resolution' | sed 's/%20/ /g' |
            awk -v x="$x" -v y="$y" -v unit="$unit" '{ k = $5 == "inch" ? 1 : 2.54; j = unit == 2 ? 1 : 2.54
                a = $3 * k / (x * j) - 1; b = $4 * k / (y * j) - 1; exit !(a * a < 9e-6 && b * b < 9e-6) }' &&
            pass "resolution $said through $to" || fail "resolution $said through $to" "$(quietly carn-decode "r.$to.$to" | grep -a '^#@ resolution')"
    done
done

# The thumbnail shows the picture before: it goes, with its bytes.
quietly carn-decode plain.png | quietly carn-encode thumb.jpg
cp thumb.jpg small.jpg
exiftool -q -overwrite_original -EXIF:Artist=x "-ThumbnailImage<=small.jpg" thumb.jpg
for to in jpg png tif; do
    quietly carn-decode thumb.jpg | quietly carn-encode "t.$to"
    [ -z "$(exiftool -s3 -b -ThumbnailImage "t.$to" 2>/dev/null | head -c 10 | tr -d '\0')" ] && [ "$(exiftool -s3 -Artist "t.$to")" = x ] &&
        pass "no thumbnail in $to" || fail "no thumbnail in $to"
done
[ "$(wc -c <t.jpg)" -lt "$(($(wc -c <thumb.jpg) - 1000))" ] && pass "its bytes are gone" || fail "its bytes are gone"

# Exif of many cameras (where the package is installed: heads of real files), put before our pixels.
samples=/usr/share/gocode/src/github.com/rwcarlsen/goexif/exif/samples
if [ -d $samples ]; then
    used=0
    bad=()
    for file in "$samples"/*.jpg; do
        # APP1 begins at byte 2 or, after a JFIF head of 18 bytes, at 20.
        for at in 2 20; do
            [ "$(tail -c +$((at + 1)) "$file" | head -c 2 | od -An -tx1 | tr -d ' ')" = ffe1 ] || continue
            size=$((0x$(tail -c +$((at + 3)) "$file" | head -c 2 | od -An -tx1 | tr -d ' ') + 2))
            { printf '\xff\xd8' && head -c $((at + size)) "$file" | tail -c $size && tail -c +3 base.jpg; } >camera.jpg
            used=$((used + 1))
            facts camera.jpg | grep -aE "$standard" >want
            for to in png jpg tif; do
                quietly carn-decode camera.jpg | quietly carn-encode "camera.$to.$to"
                # What only JFIF said before may be told by IFD0 now.
                facts "camera.$to.$to" | grep -aE "$standard" >got
                if grep -aq '\] *X Resolution' want; then cmp -s want got; else cmp -s want <(grep -av ' Resolution' got); fi || bad+=("${file##*/} $to")
            done
            break
        done
    done
    [ ${#bad[@]} -eq 0 ] && [ $used -gt 40 ] && pass "Exif of $used cameras through PNG, JPEG and TIFF" || fail "Exif of $used cameras" "${bad[@]}" "$(diff want got)"
else
    skip "Exif of many cameras" "no golang-github-rwcarlsen-goexif-dev"
fi

# A profile that libpng would think it knows, or dislikes, stays byte for byte.
for profile in /usr/share/color/icc/colord/*.icc; do
    [ "$(head -c 20 "$profile" | tail -c 4)" = "RGB " ] || continue
    exiftool -q -o p.jpg "-icc_profile<=$profile" base.jpg 2>/dev/null || continue
    ok=1
    for to in png tif jpg; do
        quietly carn-decode p.jpg | quietly carn-encode "p.$to.$to"
        exiftool -icc_profile -b "p.$to.$to" | cmp -s - "$profile" || ok=0
        quietly carn-decode "p.$to.$to" | quietly carn-encode p2.png
        exiftool -icc_profile -b p2.png | cmp -s - "$profile" || ok=0
    done
    rm -f p.jpg
    [ $ok = 1 ] && pass "profile ${profile##*/}" || fail "profile ${profile##*/}"
done
finish
