#!/usr/bin/env bash
# carn-decode and carn-encode: pixels through every lossless form, the 16 to 8 bit rule, names,
# files that appear whole or not at all, and what is refused.
. "$(dirname "$0")/lib.sh"

noise() { # WIDTH HEIGHT CHANNELS TUPLTYPE: a frame of noise from a fixed generator
    printf 'P7\nWIDTH %d\nHEIGHT %d\nDEPTH %d\nMAXVAL 65535\nTUPLTYPE %s\nENDHDR\n' "$1" "$2" "$3" "$4"
    awk -v n=$(($1 * $2 * $3 * 2)) 'BEGIN { s = 4711; for (i = 0; i < n; i++) { s = (s * 16807) % 2147483647; printf "%c", int(s / 65536) % 255 + 1 } }'
}
picture() { # WIDTH HEIGHT: a frame that is no noise
    ffmpeg -v error -f lavfi -i "testsrc2=size=$1x$2:rate=1" -frames:v 1 -pix_fmt rgb48be -c:v pam -f image2pipe - </dev/null
}
raster() { tail -c "$1"; }

noise 61 47 1 GRAYSCALE >g.pam
noise 61 47 2 GRAYSCALE_ALPHA >ga.pam
noise 61 47 3 RGB >c.pam
noise 61 47 4 RGB_ALPHA >ca.pam

# Lossless forms: 16 bit come back exactly, and 8 bit do so once they are 8 bit.
for kind in g ga c ca; do
    bytes=$((61 * 47 * $(head -n 4 $kind.pam | awk '/DEPTH/ { print $2 }') * 2))
    raster $bytes <$kind.pam >want
    carn-encode -f -b 8 first.png <$kind.pam
    quiet carn-decode first.png | raster $bytes >want8
    for form in "png" "pam" "tif -z none" "tif -z lzw" "tif -z deflate" "tif -z packbits" "tif -z zstd"; do
        sampled 2 || continue # seven forms: every kind meets others
        read -ra form <<<"$form"
        carn-encode -f "${form[@]:1}" "a.${form[0]}" <$kind.pam
        quiet carn-decode "a.${form[0]}" | raster $bytes >got
        same "$kind 16 bit through ${form[*]}" got want
        carn-decode first.png 2>/dev/null | carn-encode -f "${form[@]:1}" "b.${form[0]}"
        quiet carn-decode "b.${form[0]}" | raster $bytes >got
        same "$kind 8 bit through ${form[*]}" got want8
        quiet carn-decode "b.${form[0]}" | grep -aqx '#@ depth 8' && pass "$kind: 8 bit stay 8 bit in ${form[*]}" || fail "$kind: 8 bit stay 8 bit in ${form[*]}"
    done
done
for form in ppm pgm; do
    from=c.pam && [ $form = pgm ] && from=g.pam
    carn-encode -f a.$form <$from
    size=$(($(wc -c <$from) - 100))
    same "16 bit through $form" <(raster $size <a.$form) <(raster $size <$from)
    carn-encode -f -b 8 a.$form <$from
    status 0 "netpbm reads our 8 bit $form" pamfile a.$form
done
# In every layout that another program makes of ours.
if needs "TIFF layouts" tiffcp; then
    for kind in g ga c ca; do
        for bits in 8 16; do
            carn-encode -f -b $bits -z none flat.tif <$kind.pam
            quiet carn-decode --bare flat.tif >want
            for layout in "-c none -B" "-c lzw:2 -B -8" "-c zip:2 -t -w 32 -l 16" "-c none -t -w 16 -l 128" \
                "-c none -r 1000" "-c zip:2 -r 7" "-c lzw:2 -B -r 7" "-c lzw -f lsb2msb" "-c zstd:2 -r 3" "-c none -p separate" \
                "-c zip:2 -p separate -r 10" "-c packbits -p separate -t -w 32 -l 48"; do
                sampled 3 || continue
                case "$bits $layout" in 16*separate*) continue ;; esac # tiffcp cannot
                # shellcheck disable=SC2086 # words on purpose
                tiffcp $layout flat.tif laid.tif 2>/dev/null || continue
                quiet carn-decode --bare laid.tif >got
                same "$kind $bits bit laid out as '$layout'" got want
            done
        done
    done
fi
# Grain above, one row again and again below: some strips pack well and some repeat. ffmpeg reads them with
# code of its own. The order of bytes is that of the Exif block, here with no entry.
size=$((400 * 480 * 6))
"$SCENE" -w 400 -h 480 | tail -c $size >grain
head -c 2400 grain >row
for _ in {1..480}; do cat row; done >repeated
printf 'P7\nWIDTH 400\nHEIGHT 960\nDEPTH 3\nMAXVAL 65535\nTUPLTYPE RGB\nENDHDR\n' | cat - grain repeated >half.pam
{ printf 'P7\n#@ exif TU0AKgAAAAgAAAAAAAA=\n' && tail -n +2 half.pam; } >motorola.pam
{ head -n 7 half.pam | sed s/960/480/ && cat repeated; } >repeated.pam
# Nine times as high, it has blocks enough to be packed in one pass.
nine() { for _ in {1..9}; do cat "$1"; done; }
{ head -n 7 half.pam | sed s/960/4320/ && nine grain; } >tall.pam
for case in "half.pam a.tif" "motorola.pam a.tif" "half.pam a.png" "tall.pam a.tif" "tall.pam a.png"; do
    read -r from to <<<"$case"
    quiet carn-encode -f "$to" <"$from"
    LC_ALL=C sed '1,/^ENDHDR$/d' "$from" >want
    ffmpeg -v error -i "$to" -f rawvideo -pix_fmt rgb48be - </dev/null >got 2>err
    same "ffmpeg reads $from as ${to#a.}" got want
    quiet carn-decode "$to" | raster "$(wc -c <want)" >got
    same "and so do we" got want
done
for form in tif png; do
    quiet carn-encode -f a.$form <repeated.pam
    [ "$(wc -c <a.$form)" -lt $((size / 20)) ] && pass "what repeats packs well as $form" || fail "what repeats packs well as $form" "$(wc -c <a.$form) of $size bytes"
done
# Smooth pictures: one is packed by libtiff, or it would be 1 % larger, one by libisal in two passes, or it
# would be 1 % larger too.
if needs "what is smooth packs well" tiffcp; then
    { head -n 7 half.pam | sed s/960/480/ && cat grain; } >grain.pam
    for case in "1 985" "0.5 979"; do
        read -r sigma most <<<"$case"
        carn-blur-average -s "$sigma" <grain.pam 2>/dev/null | raster $size >smooth
        { head -n 7 tall.pam && nine smooth; } | quiet carn-encode -f -z deflate a.tif
        tiffcp -c zip:2 -r 109 a.tif b.tif 2>/dev/null
        [ $(($(wc -c <a.tif) * 1000)) -lt $(($(wc -c <b.tif) * most)) ] && pass "what is smooth packs well, $sigma" || fail "what is smooth packs well, $sigma" "$(wc -c a.tif b.tif)"
    done
fi
# Samples of 8 bits, widened to 16, are packed better by zlib. The first row decides: with one sample in it that
# was never 8 bits, libisal packs the picture.
if [[ $(ldd "$BIN/carn-encode") == *libisal* ]]; then
    ffmpeg -v error -y -f lavfi -i testsrc2=size=400x300:rate=1 -frames:v 1 -pix_fmt rgb24 a.png </dev/null
    quiet carn-decode --bare a.png >wide.pam
    quiet carn-encode -f -b 16 a.png <wide.pam
    { head -c -720000 wide.pam && printf '\1\2' && tail -c 719998 wide.pam; } | quiet carn-encode -f -b 16 b.png
    [ $(($(wc -c <a.png) * 102)) -lt $(($(wc -c <b.png) * 100)) ] && pass "what was widened is smaller" || fail "what was widened is smaller" "$(wc -c a.png b.png)"
else
    skip "what was widened is smaller" "no libisal"
fi
# White as zero, and associated alpha written back as it came.
if needs "white as zero, associated alpha" tiffset; then
    carn-encode -f -z none w.tif <g.pam
    tiffset -s 262 0 w.tif
    quiet carn-decode w.tif | raster 5734 | od -An -v -tu2 --endian=big | awk '{ for (i = 1; i <= NF; i++) print 65535 - $i }' >got
    raster 5734 <g.pam | od -An -v -tu2 --endian=big | awk '{ for (i = 1; i <= NF; i++) print $i }' >want
    same "white as zero is turned over" got want
    { printf 'P7\n#@ alpha associated\n' && tail -n +2 ca.pam; } >assoc.pam
    carn-encode -f -z none a.tif <assoc.pam
    quiet carn-decode a.tif >back
    check "associated alpha stays so" grep -aqx '#@ alpha associated' back
    same "and its samples are untouched" <(raster 22936 <back) <(raster 22936 <ca.pam)
    check "PNG takes it with a note" carn-encode -f a.png <assoc.pam
    says "that tells of the division" "note: .*straight"
fi

# JPEG inside TIFF: the pixels that gm, which uses libtiff as well, makes of it; the next file is
# deflate, so that nothing more is lost.
if needs "JPEG inside TIFF" tiffcp gm; then
    picture 208 160 | carn-encode -f -b 8 -z none flat.tif
    for layout in "-c jpeg:90 -r 16" "-c jpeg:r:90 -r 160" "-c jpeg:90 -t -w 64 -l 32"; do
        # shellcheck disable=SC2086
        tiffcp $layout flat.tif laid.tif 2>/dev/null
        quiet carn-decode --bare laid.tif | quiet pamdepth 255 | raster 99840 >got
        same "JPEG inside TIFF: $layout" got <(gm convert laid.tif -depth 8 rgb:-)
    done
    check "JPEG inside TIFF is written as" sh -c 'carn-decode laid.tif 2>/dev/null | carn-encode -f next.tif'
    quiet carn-decode next.tif | grep -aqx '#@ compression deflate' && pass "deflate" || fail "deflate"
fi

# Large strips: over 4 MiB they are not held, and the rows are the same.
if needs "large strips" tiffcp; then
    picture 1500 1100 | carn-encode -f -b 16 -z none big.tif
    quiet carn-decode --bare big.tif >want
    for layout in "-c none -r 9999 -L" "-c none -r 9999 -B" "-c zip:2 -r 9999" "-c none -r 900 -f lsb2msb"; do
        # shellcheck disable=SC2086
        tiffcp $layout big.tif one.tif
        quiet carn-decode --bare one.tif >got
        same "large strips: $layout" got want
    done
fi

# 16 to 8 bit: floor(v / 257 + t), t in [0, 1): never a step away, exact on multiples, and the mean
# of a flat area survives to 0.01 of a code.
awk 'BEGIN { printf "P7\nWIDTH 256\nHEIGHT 256\nDEPTH 1\nMAXVAL 65535\nTUPLTYPE GRAYSCALE\nENDHDR\n"
    for (y = 0; y < 256; y++) for (x = 0; x < 256; x++) printf "%c%c", 128, 70 }' >flat.pam
carn-encode -f -b 8 flat.pgm <flat.pam
raster 65536 <flat.pgm | od -An -v -tu1 | awk '{ for (i = 1; i <= NF; i++) { s += $i; n++; if ($i < 127 || $i > 128) bad++ } }
    END { m = s / n - 32838 / 257; exit !(bad == 0 && m < 0.01 && m > -0.01) }' &&
    pass "the mean of a flat area survives 8 bit" || fail "the mean of a flat area survives 8 bit"
awk 'BEGIN { printf "P7\nWIDTH 256\nHEIGHT 1\nDEPTH 2\nMAXVAL 65535\nTUPLTYPE GRAYSCALE_ALPHA\nENDHDR\n"
    for (x = 0; x < 256; x++) printf "%c%c%c%c", x, x, 255, 255 }' >exact.pam
carn-encode -b 8 exact.png <exact.pam
quiet carn-decode exact.png | raster 1024 >got
same "multiples of 257 are exact, full alpha stays full" got <(raster 1024 <exact.pam)

# Alpha of 128, 129, 385 and 386, on both sides of half a step.
{ printf 'P7\nWIDTH 4\nHEIGHT 1\nDEPTH 2\nMAXVAL 65535\nTUPLTYPE GRAYSCALE_ALPHA\nENDHDR\n' && printf '\0\0\0\200\0\0\0\201\0\0\1\201\0\0\1\202'; } >alpha.pam
carn-encode -b 8 alpha.png <alpha.pam
is "alpha is rounded" "$(quiet carn-decode alpha.png | raster 16 | od -An -v -tu2 --endian=big | awk '{ print $2, $4, $6, $8 }')" "0 257 257 514"

# A flat grey block of 8 x 8 pixels, whose 63 other terms come in N scans each.
scans() { # N
    local term low
    printf '\377\330\377\333\0\103\0' && printf '\1%.0s' {1..64} && printf '\377\302\0\13\10\0\10\0\10\1\1\21\0'
    printf '\377\304\0\24\0\1' && printf '\0%.0s' {1..16} && printf '\377\304\0\24\20\1' && printf '\0%.0s' {1..16}
    printf '\377\332\0\10\1\1\0\0\0\0\177'
    for term in {1..63}; do
        for ((low = $1 - 1; low >= 0; low--)); do
            # shellcheck disable=SC2059 # bytes
            printf "\\377\\332\\0\\10\\1\\1\\0$(printf '\\%o\\%o\\%o' "$term" "$term" $(((low + 1 < $1 ? low + 1 : 0) * 16 + low)))\\177"
        done
    done
    printf '\377\331'
}
scans 3 >scans.jpg
check "JPEG of 190 scans" carn-decode scans.jpg
scans 4 >scans.jpg
status 2 "not of 253" carn-decode scans.jpg
says "the limit is named" "JPEG of more than 200 scans"

# Names.
carn-encode 'one two.tif' <c.pam
cp 'one two.tif' "$(printf 'new\nline "q".tif')"
cp 'one two.tif' ./-dash.tif
quiet carn-decode 'one two.tif' "$(printf 'new\nline "q".tif')" ./-dash.tif >names
mkdir made
check "several frames by name" carn-encode 'made/{name}-{n}.png' <names
for file in 'one two-1.png' "$(printf 'new\nline "q"-2.png')" '-dash-3.png'; do
    [ -s "made/$file" ] && pass "made/$file" || fail "made/$file" "$(ls made)"
done
carn-encode -f a.tif <c.pam
quiet carn-decode a.tif a.tif >twice
status 2 "a second frame for one file" carn-encode second.png <twice
check "the first stays" test -s second.png
printf 'P7\n#@ name ../../up.tif\nWIDTH 1\nHEIGHT 1\nDEPTH 1\nMAXVAL 255\nTUPLTYPE GRAYSCALE\nENDHDR\na' >up.pam
check "a name cannot leave the folder" carn-encode 'made/{name}.png' <up.pam
check "it lands inside" test -s made/up.png
for name in ...tif ..tif . .. .... a/ / ../ %2e%2e.tif ..%2f; do
    sed "s|^#@ name .*|#@ name $name|" up.pam >odd.pam
    refused "a frame called $name has no name for a file" carn-encode -t png '{name}' <odd.pam
done
sed 's|^#@ name .*|#@ name -|' up.pam >odd.pam
check "a frame called - is a file" carn-encode -t png '{name}' <odd.pam
[ -s ./- ] && [ ! -s out ] && pass "it is not standard output" || fail "it is not standard output"
status 2 "a frame without a name for {name}" carn-encode 'made/{name}.png' <c.pam

# Sources are never written, by whatever name.
cp a.tif source.tif
ln -s source.tif link.tif
ln source.tif hard.tif
for to in source.tif link.tif hard.tif ./made/../source.tif; do
    quiet carn-decode source.tif >s.pam
    status 2 "never onto a source: $to" carn-encode $to <s.pam
done
quiet carn-decode --bare source.tif >s.pam
refused "nor where the frame does not say what it comes from" carn-encode source.tif <s.pam
says "and how to have it" "source.tif: exists and may be .*,.* -f writes over it$"
same "the source is untouched" source.tif a.tif
check "to a new name it goes" carn-encode other.tif <s.pam
check "and over that with -f" carn-encode -f other.tif <s.pam
check "or where --as tells of the source" carn-encode --as source.tif other.tif <s.pam
refused "but never onto that, -f or not" carn-encode -f --as source.tif source.tif <s.pam

# Whole or not at all.
cp a.tif kept.png
head -c 9000 c.pam >cut.pam
for to in kept.png fresh.tif fresh.jpg fresh.pam; do
    status 2 "a frame cut short: $to" carn-encode -f $to <cut.pam
done
same "an older file stays" kept.png a.tif
check "nothing else is left" sh -c '! ls -A | grep -E "^(fresh|\.carn)"'
# Ended by a signal in the middle of a frame.
mkfifo pipe
mkdir -p ended && cp a.tif ended/old.tif
for signal in TERM HUP KILL PIPE XFSZ ABRT USR1; do
    "$BIN/carn-encode" -f ended/old.tif <pipe 2>/dev/null &
    victim=$!
    exec 9>pipe
    head -c 9000 c.pam >&9
    until grep -q -e deleted -e '/\.carn-' <<<"$(ls -l /proc/$victim/fd)"; do sleep 0.02; done
    if [ $signal != KILL ] || [ -z "$(find ended -name '.carn-*')" ]; then kill -s $signal $victim; fi
    exec 9>&- # so that it ends even where the signal is ignored (nohup)
    wait $victim 2>/dev/null
done
is "a signal leaves nothing, SIGKILL neither" "$(ls -A ended)" old.tif
same "and the older file" ended/old.tif a.tif
# SIGXFSZ is one line, no signal.
for to in new.tif new.pam new.png; do
    (ulimit -f 4 && carn-encode -b 16 ended/$to <c.pam) 2>err
    is "a file over the limit of its size: $to" "$? $(grep -c "^carn-encode: ended/$to: .*cannot" err) $(grep -cv ": note: " err)" "2 1 1"
done
is "leaves nothing" "$(ls -A ended)" old.tif
bash -c 'carn-encode -b 8 ended/new.jpg 2>&1 <ca.pam | true'
is "a reader of its notes that goes away leaves nothing half" "$(find ended -mindepth 1 ! -name new.jpg)" ended/old.tif
if [ "$(id -u)" -eq 0 ] && have setpriv; then
    mkdir closed && chmod 755 closed
    status 2 "a folder that cannot be written" setpriv --reuid=nobody --clear-groups "$BIN/carn-encode" closed/x.tif <c.pam
fi
status 2 "a target that is no file" carn-encode -t png /dev/null <c.pam
status 2 "a folder that is not there" carn-encode none/x.png <c.pam
check "standard output" sh -c 'carn-encode -t tif - <c.pam >stdout.tif'
same "gives the same bytes" stdout.tif a.tif
for form in png tif jpg pam ppm; do
    quiet carn-encode -f a.$form <c.pam
    quiet carn-decode --bare a.$form >direct.pam
    check "$form from a pipe" sh -c "cat a.$form | carn-decode --bare - >piped.pam 2>/dev/null"
    same "gives the same pixels" piped.pam direct.pam
    check "$form from a file at standard input" sh -c "carn-decode --bare - <a.$form >piped.pam 2>/dev/null"
    same "gives them too" piped.pam direct.pam
done
mkdir scratch
TMPDIR=$T/scratch quiet carn-decode - < <(cat a.tif) >piped.pam
[ -s piped.pam ] && [ -z "$(ls -A scratch)" ] && pass "nothing is left in TMPDIR" || fail "nothing is left in TMPDIR"
TMPDIR=$T/nowhere carn-decode - < <(cat a.tif) >piped.pam 2>err
[ $? -eq 2 ] && grep -q nowhere err && pass "no folder for it" || fail "no folder for it" "$(cat err)"

# One sample a pixel, packed or a palette's: netpbm writes them and says what they mean.
if needs "palettes and bits" pnmtotiff tiffcp; then
    pamdepth 255 c.pam 2>/dev/null | pamtopnm >c.ppm
    ppmquant 11 c.ppm >eleven.ppm 2>/dev/null
    ppmtopgm c.ppm | pgmtopbm >bits.pbm
    ppmtopgm c.ppm | pamdepth 15 >four.pgm 2>/dev/null
    alone() { # NAME PNM OPTION...: the TIFF that pnmtotiff makes has the samples of PNM
        local size=$((61 * 47 * 2))
        [ "${2##*.}" != ppm ] || size=$((3 * size))
        pnmtotiff "${@:3}" "$2" >alone.tif 2>/dev/null
        quiet carn-decode alone.tif | raster $size >got
        same "$1 ${*:3}" got <(pamdepth 65535 "$2" 2>/dev/null | raster $size)
    }
    for option in -none -lzw -packbits; do alone "a palette" eleven.ppm $option; done
    for option in -none -g3 -g4 -miniswhite -minisblack; do alone "one bit" bits.pbm $option; done
    alone "four bits" four.pgm -none
    pnmtotiff eleven.ppm 2>/dev/null >alone.tif && tiffcp -t -w 16 -l 32 alone.tif tiles.tif
    same "a palette in tiles" <(quiet carn-decode --bare tiles.tif) <(quiet carn-decode --bare alone.tif)
    pnmtotiff -g4 bits.pbm 2>/dev/null >alone.tif && quiet carn-decode alone.tif | carn-encode -f tiles.tif
    same "CCITT is written as deflate" <(quiet carn-decode --bare tiles.tif) <(quiet carn-decode --bare alone.tif)
fi

# Pictures that are known and not read, by their first bytes.
while read -r words bytes; do
    # shellcheck disable=SC2059 # the data is a format on purpose
    { printf "$bytes" && head -c 40 /dev/zero; } >foreign
    refused "${words//_/ }" carn-decode foreign
    says "is named" "foreign: is .* ${words//_/ }.*, which is not read; make a TIFF, PNG or PAM of it"
done <<'END'
HEIC_picture \0\0\0\030ftypheic
HEIF_picture \0\0\0\030ftypmif1
AVIF_picture \0\0\0\040ftypavif
WebP_picture RIFF\020\0\0\0WEBPVP8
JPEG_XL_picture \377\012
JPEG_XL_picture \0\0\0\014JXL\040\015\012\207\012
JPEG_2000_picture \0\0\0\014jP\040\040\015\012\207\012
GIF_picture GIF89a
raw_sensor_file \0\0\0\030ftypcrx\040
raw_sensor_file FUJIFILMCCD-RAW
raw_sensor_file II\032\0\0\0HEAPCCDR
BMP_picture BM
END
# What the guide says to do with them.
if needs "foreign pictures through gm" gm; then
    quiet carn-encode -f -b 8 from.png <c.pam
    for form in webp jxl gif; do
        gm convert from.png "to.$form" 2>/dev/null || { skip "$form through gm" "this gm writes none" && continue; }
        refused "$form as it is" carn-decode to.$form
        says "says the way" ': gm convert FILE FILE.png$'
        gm convert to.$form "back.$form.png" && quiet carn-decode "back.$form.png" >got.pam
        is "$form through gm" "$(grep -a -m 2 -E '^(WIDTH|HEIGHT)' got.pam | tr '\n' ' ')" "WIDTH 61 HEIGHT 47 "
    done
    ffmpeg -v error -i from.png -frames:v 1 -c:v libaom-av1 -still-picture 1 to.avif </dev/null 2>/dev/null
    if gm convert to.avif back.png 2>/dev/null; then
        refused "avif as it is" carn-decode to.avif
        is "avif through gm" "$(quiet carn-decode back.png | grep -a -m 2 -E '^(WIDTH|HEIGHT)' | tr '\n' ' ')" "WIDTH 61 HEIGHT 47 "
    else
        skip "avif through gm" "this ffmpeg or gm knows none"
    fi
fi

# Nothing is written to a terminal that it cannot show: no frames, no picture, no 8-bit control characters.
if needs "a terminal" script; then
    for command in 'carn-decode a.tif' 'carn-blur-average -s 1 <c.pam' 'carn-encode -t png - <c.pam'; do
        script -qec "$command" /dev/null </dev/null >out 2>&1
        got=$?
        is "$command to a terminal" "$got $(tr -d '\r' <out | grep -v ': note: ')" "2 ${command%% *}: <stdout>: is a terminal; pictures go into a pipe or a file"
    done
fi
name=$(printf 'x\302\233\2331m\303\251\033.tif')
status 2 "a name with controls" carn-decode "$name"
is "is shown without them" "$(cat err)" "carn-decode: $(printf 'x???1m\303\251?.tif'): cannot be opened: No such file or directory"
cp a.tif "$name"
is "in tables too" "$(carn-facts "$name" 2>/dev/null | grep -c "$(printf '\302\233')")" 0
is "as an escape" "$(carn-facts "$name" 2>/dev/null | grep -c '^x%C2%9B')" 1
# Frames that another program dropped, and a profile that it lost.
check "frames as many as are asked for" bash -c "cat c.pam c.pam c.pam | carn-encode -n 3 -t tif 'made/all-{n}'"
says "no profile is noted once" '^carn-encode: note: -: no profile, the file will say none$'
refused "a frame of three" carn-encode -n 3 -t tif 'made/one-{n}' <c.pam
says "is counted" '^carn-encode: <stdin>: 1 frames came, not 3$'
check "PNM has no place for one" carn-encode -f a.ppm <c.pam
is "and nothing is said" "$(cat err)" ""

# Usage.
for wrong in "-b 12 a.png" "-q 0 a.jpg" "-q 90 a.png" "-z lzw a.png" "-z odd a.tif" "-b 16 a.jpg" "a.gif" "-" "a" \
    "-t gif -" "a.png b.png" ""; do
    # shellcheck disable=SC2086
    refused "carn-encode $wrong" carn-encode $wrong <c.pam
done
refused "carn-decode without a file" carn-decode
refused "carn-decode --max-pixels x" carn-decode --max-pixels x a.tif
refused "carn-decode --bare --as" carn-decode --bare --as a.tif a.tif
refused "more pixels than allowed" carn-decode --max-pixels 100 a.tif
says "names the option" 'max-pixels'

# Every filter of PNG (specification, 9.2) on every plain kind, in IDAT chunks of 0, 1 and more bytes; the wide one is
# longer than what is unpacked at once. Then what its data can be: short, broken, with another filter.
/usr/bin/python3 -B - <<'E1'
import random, struct, zlib
random.seed(5)
def chunk(kind, data): return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
def png(width, height, depth, kind, data, cuts):
    parts, at = [], 0
    for cut in cuts + [len(data)]:
        parts.append(chunk(b"IDAT", data[at:at + cut])); at += cut
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0)) + b"".join(parts) + chunk(b"IEND", b"")
def paeth(a, b, c):
    p = a + b - c
    return min((abs(p - a), 0, a), (abs(p - b), 1, b), (abs(p - c), 2, c))[2]
def filtered(kind, row, above, pixel):
    out = bytearray([kind])
    for i, v in enumerate(row):
        a, b, c = row[i - pixel] if i >= pixel else 0, above[i], above[i - pixel] if i >= pixel else 0
        out.append((v - (0, a, b, (a + b) // 2, paeth(a, b, c))[kind]) & 255)
    return bytes(out)
for depth in 8, 16:
    for name, kind, channels in ("g", 0, 1), ("c", 2, 3), ("ga", 4, 2), ("ca", 6, 4):
        width, height = (50000, 2) if name == "ca" and depth == 16 else (23, 11)
        pixel = channels * depth // 8
        rows = [bytes(random.randrange(256) if i % 7 else 128 for i in range(width * pixel)) for _ in range(height)]
        plain = b"".join(filtered((y + 3) % 5, row, rows[y - 1] if y else bytes(len(row)), pixel) for y, row in enumerate(rows))
        with open(f"{name}{depth}.png", "wb") as f: f.write(png(width, height, depth, kind, zlib.compress(plain), [1, 0, 1, 50]))
        with open(f"{name}{depth}.raw", "wb") as f:
            for row in rows: f.write(row if depth == 16 else bytes(v for b in row for v in (b, b)))
two = bytes([0]) + bytes(range(30)), bytes([5]) + bytes(30)
broken = bytearray(zlib.compress(random.randbytes(31), 0)); broken[3] ^= 1
for name, data in ("short", zlib.compress(two[0])), ("filter", zlib.compress(two[0] + two[1])), ("broken", bytes(broken)), ("none", b""):
    with open(name + ".png", "wb") as f: f.write(png(10, 2, 8, 2, data, []))
with open("more.png", "wb") as f: f.write(png(10, 1, 8, 2, zlib.compress(two[0]) + b"more", []))
E1
for kind in g8 c8 ga8 ca8 g16 c16 ga16 ca16; do
    quiet carn-decode $kind.png | raster "$(wc -c <$kind.raw)" >got
    same "every filter of PNG, $kind" got $kind.raw
done
for case in short:1 filter:1 broken:0 none:0; do
    status 2 "PNG whose data are wrong: ${case%:*}" carn-decode --bare ${case%:*}.png
    says "names the row" "PNG damaged at row ${case#*:} of 2"
done
check "bytes behind the data of a PNG do not matter" quiet carn-decode more.png

# Colours that a PNG says by gamma and primaries (PNG 1.2, 11.3.3.1 and 11.3.3.2; 1/100000) become a profile.
# CIE L* of a linear half: 116 0.5^(1/3) - 16 = 76.07. The wide green's Y, adapted to D50, is 0.6257: L* 83.21
# (from memory, the published matrix of a common photographic space).
number() { printf '\\%03o' $(($1 >> 24 & 255)) $(($1 >> 16 & 255)) $(($1 >> 8 & 255)) $(($1 & 255)); }
# A chunk's checksum is that of gzip (CRC-32), which stands near the end of its file in the other byte order.
# shellcheck disable=SC2059 # the data is a format on purpose
chunk() { # TYPE DATA, as printf has it: one chunk
    local sum size
    size=$(printf "$2" | wc -c)
    sum=$(printf "$1$2" | gzip -c | tail -c 8 | head -c 4 | od -An -to1 | awk '{ printf "\\%s\\%s\\%s\\%s", $4, $3, $2, $1 }')
    printf "$(number "$size")$1$2$sum"
}
# shellcheck disable=SC2059
said() { # PNM CHUNK...: said.png, which says this and nothing else of its colours
    printf "$1" | carn-decode - 2>/dev/null | carn-encode -t png - 2>/dev/null >plain.png
    { head -c 33 plain.png && shift && while [ $# -gt 0 ]; do chunk "$1" "$2" && shift 2; done && tail -c +34 plain.png; } >said.png
}
lightness() { # FILE: of its one pixel
    carn-decode "$1" | carn-sample -p <(printf 'frame\tpatch\ttone\tx\ty\tw\th\n*\tall\tmiddle\t0\t0\t1\t1\n') 2>/dev/null >read.tsv && cell read.tsv L
}
near() { awk -v a="$1" -v b="$2" 'BEGIN { exit !(a - b < 0.03 && b - a < 0.03) }' && pass "$3" || fail "$3" "$1 for $2"; }
gamma=$(number 100000) primaries=
for value in 31270 32900 64000 33000 21000 71000 15000 6000; do primaries+=$(number "$value"); done
said 'P6 1 1 255\n\200\200\200' gAMA "$gamma"
near "$(lightness said.png)" 76.19 "a gamma is a profile, colour" # 128 / 255
said 'P5 1 1 255\n\200' gAMA "$gamma"
near "$(lightness said.png)" 76.19 "a gamma is a profile, grey"
said 'P6 1 1 255\n\000\377\000' gAMA "$gamma" cHRM "$primaries"
near "$(lightness said.png)" 83.21 "primaries are a profile"

# Colours that a PNG says by code (cICP, ITU-T H.273): known ones are a profile, others are refused.
coded() { # CODE, as printf has it: coded.png with a cICP chunk behind its header
    { head -c 33 plain.png && chunk cICP "$1" && tail -c +34 plain.png; } >coded.png
}
printf 'P6\n1 1\n255\nabc' | carn-encode -f -b 8 plain.png
for code in '\001\015\000\001' '\014\004\000\001' '\011\010\000\001'; do
    coded "$code"
    carn-decode coded.png 2>err | grep -aq '^#@ icc' && [ ! -s err ] && pass "cICP $code" || fail "cICP $code" "$(cat err)"
done
for code in '\014\015\000\001' '\001\015\000\000' '\001\015\001\001'; do
    coded "$code"
    refused "cICP $code" carn-decode coded.png
    says "names the chunk" cICP
done
coded '\011\020\000\001'
refused "PQ" carn-decode coded.png
says "says so" PQ

# Job labels and --as.
printf 'frame\tsubject\tcamera\na\tAino\tnorth\n' >job.tsv
quiet carn-decode -j job.tsv a.tif >labelled
check "the job's subject" grep -aqx '#@ subject Aino' labelled
check "the job's camera" grep -aqx '#@ camera north' labelled
{ carn-encode -f -b 8 -z lzw src.tif <c.pam; carn-decode --bare src.tif | pamtopam | carn-encode --as src.tif back.tif; } 2>/dev/null
quiet carn-decode --as src.tif back.tif >back
check "--as puts depth back" grep -aqx '#@ depth 8' back
check "--as puts compression back" grep -aqx '#@ compression lzw' back
status 2 "--as counts as a source" carn-encode --as src.tif src.tif <c.pam

# A bad file is skipped, the others come; cut files of every kind are told.
head -c 3000 a.tif >cut.tif
carn-decode a.tif cut.tif missing.tif a.tif >some 2>err
[ $? -eq 2 ] && [ "$(grep -ac '^TUPLTYPE' some)" -eq 2 ] && [ "$(grep -c '^carn-decode: [cm]' err)" -eq 2 ] &&
    pass "what fails before its frame is skipped" || fail "what fails before its frame is skipped" "$(cat err)"
picture 200 160 | quiet carn-encode -f whole.jpg
head -c "$(($(wc -c <whole.jpg) / 2))" whole.jpg >cut.jpg
carn-decode a.tif cut.jpg a.tif >some 2>err
[ $? -eq 2 ] && [ "$(grep -ac '^TUPLTYPE' some)" -eq 2 ] && [ "$(grep -c '^carn-decode: cut.jpg' err)" -eq 1 ] &&
    pass "what fails inside its frame ends the stream" || fail "what fails inside its frame ends the stream" "$(cat err)"

# The first full-size picture of a TIFF file, and a note that names the rest.
if needs "which picture of a TIFF" tiffcp tiffset; then
    carn-encode -f -z none grey.tif <g.pam
    tiffcp a.tif grey.tif grey.tif pages.tif
    carn-decode --bare pages.tif >got 2>err
    same "the first page" got <(quiet carn-decode --bare a.tif)
    says "the others are named" "note: pages.tif: left out of this TIFF: 2 pages"
    tiffset -s 254 1 pages.tif
    carn-decode --bare pages.tif >got 2>err
    same "a reduced picture is passed over" got <(quiet carn-decode --bare grey.tif)
    says "and named" "note: pages.tif: left out of this TIFF: 1 page, 1 reduced picture"
    tiffset -s 254 1 grey.tif
    refused "nothing but a reduced picture" carn-decode grey.tif
    carn-encode -f -b 8 -z none five.tif <ca.pam
    tiffset -s 338 1 0 five.tif
    carn-decode --bare five.tif >got 2>err
    says "a channel that is not alpha is named" "note: five.tif: left out of this TIFF: 1 extra channel"
    check "and left out" grep -aqx 'TUPLTYPE RGB' got
fi

# With everything a file can carry, at every byte of a small one.
{ head -n 1 ca.pam
    printf '#@ orientation 6\n#@ resolution 300%%20300%%20inch\n#@ xmp %s\n' "$(printf '<x:xmpmeta/>' | base64 -w 0)"
    printf '#@ iptc %s\n#@ icc ' "$(printf '\034\002\005\000\003abc' | base64 -w 0)"
    base64 -w 60 /usr/share/color/icc/colord/Bluish.icc 2>/dev/null | sed '2,$s/^/#@+ /'
    printf '#@ depth 8\nWIDTH 3\nHEIGHT 5\nDEPTH 4\nMAXVAL 65535\nTUPLTYPE RGB_ALPHA\nENDHDR\n'
    tail -c 120 ca.pam; } >tiny.pam
for form in png tif jpg pam ppm; do
    quiet carn-encode -f -b 8 tiny.$form <tiny.pam
    bad=()
    size=$(wc -c <tiny.$form)
    # Of a long file some 40 places, and all near its ends.
    for part in $(seq 1 40) $(seq 41 $((size / 40 + 1)) "$size") $(seq $((size - 20)) $((size - 1))); do
        [ "$part" -gt 0 ] && [ "$part" -lt "$size" ] || continue
        head -c "$part" tiny.$form >cut.$form
        got=0
        carn-decode cut.$form >cut.out 2>err || got=$?
        complaints err
        [ $got -eq 2 ] && [ $said -eq 1 ] || bad+=("$part: $got $(cat err)")
    done
    [ ${#bad[@]} -eq 0 ] && pass "$form of $size bytes cut anywhere" || fail "$form of $size bytes cut anywhere" "${bad[@]}"
done
# A key that should hold bytes and holds none: libtiff failed on it in its own words, PNG was written without.
for key in icc exif xmp iptc; do
    sed "1a #@ $key " ca.pam >void.pam
    for form in png tif jpg; do
        refused "an empty $key for $form" carn-encode void.$form <void.pam
        says "and named" "carn-encode: void\.$form: the frame's $key: no bytes"
        [ ! -e void.$form ] && pass "and nothing written" || fail "and nothing written"
    done
done
picture 200 160 >chart.pam
for form in png tif jpg pam ppm; do
    carn-encode -f -b 8 whole.$form <chart.pam 2>/dev/null
    size=$(wc -c <whole.$form)
    for part in 1 3 20 $((size / 3)) $((size / 2)) $((size - 1)); do
        head -c "$part" whole.$form >cut.$form
        got=0
        carn-decode cut.$form >cut.out 2>err || got=$?
        complaints err
        if [ $got -eq 2 ] && [ $said -eq 1 ] && [ "$(wc -c <cut.out)" -lt 192000 ]; then
            pass "$form cut at $part of $size"
        else
            fail "$form cut at $part of $size" "$got" "$(cat err)"
        fi
    done
done
finish
