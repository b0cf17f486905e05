#!/usr/bin/env bash
# Other projects' pictures, read in place from Debian packages: PngSuite, TIFF and JPEG sets, bit for
# bit against decoders that are not libpng or libtiff; hostile files refused in bounded time.
. "$(dirname "$0")/lib.sh"
suite=/usr/share/doc/libsixel-examples/examples/images/pngsuite
gopher=/usr/share/gocode/src/golang.org/x/image/testdata
jxl=/usr/share/libjxl-testdata
pixbuf=/usr/libexec/installed-tests/gdk-pixbuf
gtk=/usr/libexec/installed-tests/gtk-4.0/gdk/image-data
checkit=/usr/share/checkit_tiff

# Our samples are those of ffmpeg's own PNG or TIFF decoder. ffmpeg takes half a second to start: files are
# asked for one by one and decoded by one ffmpeg. 8 bit ones are brought back to 8 bit by netpbm, so
# that nothing is scaled on ffmpeg's side.
asked=() from=() to=()
ask() { # FILE: N.ours, and what to ask for N.theirs
    local depth=16 channels=0 width=0 height=0 form key value n=${#asked[@]}
    carn-decode "$1" >ours 2>err || return 1
    while IFS=' ' read -r key value && [ "$key" != ENDHDR ]; do
        case "$key $value" in
        '#@ depth '*) depth=${value#depth } ;;
        'WIDTH '*) width=$value ;;
        'HEIGHT '*) height=$value ;;
        'DEPTH '*) channels=$value ;;
        esac
    done <ours
    case $channels,$depth in
    1,8) form=gray ;; 1,16) form=gray16be ;; 2,8) form=ya8 ;; 2,16) form=ya16be ;;
    3,8) form=rgb24 ;; 3,16) form=rgb48be ;; 4,8) form=rgba ;; *) form=rgba64be ;;
    esac
    if [ "$depth" = 8 ]; then
        pamdepth 255 <ours 2>/dev/null | tail -c $((width * height * channels)) >"$n.ours"
    else
        tail -c $((2 * width * height * channels)) ours >"$n.ours"
    fi
    asked+=("$1") from+=(-i "$1") to+=(-map "$n" -frames:v 1 -f rawvideo -pix_fmt "$form" "$n.theirs")
}
# answer: sets good to how many were the same, and wrong to the names of the others; begins anew.
answer() {
    local n
    good=0 wrong=()
    ffmpeg -y -v error "${from[@]}" "${to[@]}" </dev/null 2>err
    for ((n = 0; n < ${#asked[@]}; n++)); do
        [ -s "$n.ours" ] && cmp -s "$n.ours" "$n.theirs" && good=$((good + 1)) || wrong+=("${asked[n]##*/}")
    done
    rm -f ./*.ours ./*.theirs
    asked=() from=() to=()
}

if [ -d $suite ]; then
    for file in "$suite"/*/*.png; do
        # ffmpeg leaves out the transparent colour of grey below 8 bit; netpbm does that itself.
        case $file in */corrupted/* | */tbbn0g04.png) ;; *) ask "$file" ;; esac
    done
    answer
    [ "$good" -eq 159 ] && pass "PngSuite: 159 valid files bit for bit" || fail "PngSuite: $good of 159 valid files bit for bit" "${wrong[*]}"
    file=$(find $suite -name tbbn0g04.png)
    same "PngSuite: the transparent colour of grey" <(pngtopam -alphapam "$file" 2>/dev/null | pamdepth 65535 2>/dev/null | tail -c 4096) \
        <(carn-decode "$file" 2>/dev/null | tail -c 4096)
    for file in "$suite"/corrupted/*.png; do
        refused "PngSuite: refused ${file##*/}" carn-decode "$file"
    done
else
    skip "PngSuite" "no libsixel-examples"
fi

if [ -d $gopher ]; then
    for file in "$gopher"/{video-001,video-001-16bit,video-001-gray,video-001-gray-16bit,video-001-strip-64,video-001-uncompressed,blue-purple-pink.lzwcompressed,no_compress}.tiff; do
        ask "$file"
    done
    answer
    [ "$good" -eq 8 ] && pass "TIFF: 8 of x/image" || fail "TIFF: $good of 8 of x/image" "${wrong[*]}" "$(cat err)"
    # ffmpeg 7 refuses a file that does not say how many rows a strip has; Pillow takes one strip.
    if /usr/bin/python3 -c 'import PIL' 2>/dev/null; then
        carn-decode --bare "$gopher/no_rps.tiff" 2>/dev/null | pamdepth 255 2>/dev/null | tail -c 960 >ours
        /usr/bin/python3 -c 'import sys; from PIL import Image; sys.stdout.buffer.write(Image.open(sys.argv[1]).tobytes())' "$gopher/no_rps.tiff" >theirs
        same "TIFF: rows of a strip unsaid, as Pillow" ours theirs
    else
        skip "TIFF: rows of a strip unsaid" "no Pillow"
    fi
    # ffmpeg has no tiles; the same picture in strips is the oracle.
    carn-decode --bare $gopher/video-001-tile-64x64.tiff >tiles 2>/dev/null
    carn-decode --bare $gopher/video-001-uncompressed.tiff >strips 2>/dev/null
    same "TIFF: tiles" tiles strips
    for file in "$gopher"/{video-001-paletted,bw-gopher_ccittGroup3,bw-gopher_ccittGroup4,bw-packbits,bw-deflate,bw-uncompressed}.tiff; do
        ask "$file"
    done
    answer
    [ "$good" -eq 6 ] && pass "TIFF: a palette and one bit" || fail "TIFF: a palette and one bit, $good of 6" "${wrong[*]}" "$(cat err)"
else
    skip "TIFF of x/image" "no golang-golang-x-image-dev"
fi

if [ -d $gtk ]; then
    ask $gtk/image.tiff
    ask $gtk/image-unassoc.tiff
    answer
    [ "$good" -eq 2 ] && pass "TIFF: gtk's image, and straight alpha" || fail "TIFF: gtk's image, and straight alpha" "${wrong[*]}" "$(cat err)"
    refused "TIFF: floating point" carn-decode $gtk/image-float.tiff
    says "says so" "floating-point"
    refused "JPEG: CMYK" carn-decode $gtk/image-cmyk.jpeg
    says "says so" "CMYK"
else
    skip "gtk's pictures" "no gtk-4-tests"
fi

if [ -d $jxl ]; then
    # The same library reads them in netpbm, with the same arithmetic: every sampling must agree.
    kinds=0 all=0
    while IFS= read -r file; do
        all=$((all + 1))
        carn-decode --bare "$file" 2>/dev/null | pamdepth 255 2>/dev/null >ours
        jpegtopnm -dct=int "$file" 2>/dev/null >theirs
        size=$(($(wc -c <theirs) - $(head -n 3 theirs | wc -c)))
        cmp -s <(tail -c $size ours) <(tail -c $size theirs) && kinds=$((kinds + 1)) || fail "JPEG: ${file##*/}"
    done < <(find $jxl -name '*.jpg' ! -name '*.cmyk.jpg')
    # Debian 12 has 18, Debian 13 has 20 and one of CMYK.
    [ $kinds -eq $all ] && [ $all -ge 18 ] && pass "JPEG: $kinds kinds" || fail "JPEG: $kinds of $all kinds"
    # And ffmpeg's own decoder sees the same picture where nothing is subsampled: above 45 dB.
    file=$(find $jxl -name 'flower.png.im_q85_444.jpg')
    carn-decode --bare "$file" 2>/dev/null | pamtopnm 2>/dev/null >ours.ppm
    ffmpeg -v error -y -i "$file" -i ours.ppm -lavfi '[0]format=gbrp[a];[1]format=gbrp[b];[a][b]psnr=stats_file=psnr' -f null - </dev/null 2>err
    awk -F 'psnr_avg:' '{ split($2, v, " "); exit !(v[1] == "inf" || v[1] > 45) }' psnr && pass "JPEG: ffmpeg agrees" || fail "JPEG: ffmpeg agrees" "$(cat psnr err)"
    refused "PNG: HLG" carn-decode $jxl/jxl/hdr_room.png
    says "says so" "HLG"
else
    skip "JPEG kinds" "no libjxl-testdata"
fi

# Hostile files: status 0 or 2, at most one line that is no note, 20 seconds of a processor, 600 MB of addresses.
hostile() { # NAME FOLDER
    local bad=() seen=0 got file
    while IFS= read -r file; do
        sampled 4 || continue
        seen=$((seen + 1))
        got=0
        (
            # The sanitizers reserve terabytes of addresses.
            case $CARN_BUILD in *sanitized* | *asan*) ;; *) ulimit -v 600000 ;; esac
            ulimit -t 20
            exec carn-decode "$file"
        ) >ours 2>err || got=$?
        complaints err
        if { [ $got -ne 0 ] && [ $got -ne 2 ]; } || [ $said -gt 1 ] || [[ $(<err) =~ Sanitizer|'runtime error' ]]; then
            bad+=("${file##*/} $got")
        fi
    done < <(find "$2" -type f -size -3M)
    [ ${#bad[@]} -eq 0 ] && pass "hostile: $seen files of $1" || fail "hostile: ${#bad[@]} of $seen files of $1" "${bad[@]}"
}
[ -d $pixbuf ] && hostile gdk-pixbuf $pixbuf/test-images || skip "hostile gdk-pixbuf" "no gdk-pixbuf-tests"
[ -d $checkit ] && hostile checkit-tiff $checkit || skip "hostile checkit-tiff" "no checkit-tiff"
[ -d $jxl ] && hostile libjxl $jxl || skip "hostile libjxl" "no libjxl-testdata"
file=$(find $pixbuf -name '*.png' -size 95c 2>/dev/null | head -n 1) # 935820 x 854554 pixels in 95 bytes
[ -n "$file" ] && refused "a picture that claims to be huge" carn-decode "$file"
finish
