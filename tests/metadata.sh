#!/usr/bin/env bash
# What survives each pair of formats: ICC, Exif, XMP, IPTC, resolution and orientation, looked at with
# exiftool, which shares no code with ours. Makes the table of docs/metadata.md as it goes.
# exiftool takes a quarter of a second to start: files are made first and looked at all at once.
. "$(dirname "$0")/lib.sh"
needs "metadata" exiftool || finish
icc=/usr/share/color/icc/colord/SwappedRedAndGreen.icc
[ -r $icc ] || {
    skip "metadata" "no colord-data"
    finish
}
ffmpeg -v error -y -f lavfi -i testsrc2=size=64x48:rate=1 -frames:v 1 plain.png </dev/null
recode() { quiet carn-decode "$1" | quiet carn-encode "$2"; }

# told FILE...: FILE.told, everything that is said of a picture but for its layout, its thumbnail and
# the places of things, sorted; and FILE.standard, what of it stands in groups of standards (makers'
# own move with their notes), with FILE.bare, the same without resolution. All files at once: starting
# programs is most of what this test costs.
told() {
    exiftool -q -q -n -G1 -a -u -w! '%d%f.%e.all' --System:all --File:all --ExifTool:all --Composite:all --IFD1:all \
        --PNG:all --PNG-pHYs:all --JFIF:all --ICC_Profile:all --ICC-header:all "$@"
    awk '!/\] +(Image (Width|Height)|Bits Per Sample|Compression|Photometric Interpretation|Strip|Samples Per Pixel|Rows Per Strip|Planar Configuration|Predictor|Y Cb Cr|Orientation|Thumbnail|Preview Image|Fill Order)/ {
        print FILENAME "\t" $0 }' "${@/%/.all}" | sort | awk '
        { to = substr($0, 1, index($0, "\t") - 5); line = substr($0, index($0, "\t") + 1)
          if (to != last) { if (last != "") { close(last ".told"); close(last ".standard"); close(last ".bare") }
              printf "" >(to ".told"); printf "" >(to ".standard"); printf "" >(to ".bare") }
          last = to
          print line >(to ".told")
          if (line !~ /^\[(IFD0|ExifIFD|GPS|InteropIFD|XMP[^]]*|IPTC[^]]*)\]/) next
          print line >(to ".standard")
          if (line !~ / Resolution/) print line >(to ".bare") }'
}
# held FILE...: FILE.xmp, FILE.iptc and FILE.icc, the bytes of these.
held() {
    exiftool -q -q -XMP -b -w! '%d%f.%e.xmp' "$@"
    exiftool -q -q -IPTC -b -w! '%d%f.%e.iptc' "$@"
    exiftool -q -q -icc_profile -b -w! '%d%f.%e.icc' "$@"
}
# value FILE TAG: sets said to what exiftool says of FILE's first directory.
value() {
    said=
    local line
    while IFS= read -r line; do
        [[ $line =~ ^\[IFD0\]\ *"$2"\ *:\ (.*)$ ]] && said=${BASH_REMATCH[1]}
    done <"$1.all"
}

recode plain.png base.jpg
cp base.jpg full.jpg
exiftool -q -overwrite_original "-icc_profile<=$icc" -XMP:Title="Tést" -XMP:Rating=3 -IPTC:City="Köln" \
    -IPTC:Keywords=choir -IPTC:Keywords=tour -EXIF:Artist="A B" -EXIF:Orientation#=6 -EXIF:XResolution=300 \
    -EXIF:YResolution=300 -EXIF:ResolutionUnit=inches -EXIF:ExposureTime=1/125 -EXIF:FNumber=28/10 \
    -EXIF:DateTimeOriginal="2024:05:06 07:08:09" -GPSLatitude=50.1 -GPSLatitudeRef=N full.jpg

# keeps FILE: sets kept to yes or no for each thing that full.jpg has.
keeps() {
    kept=()
    cmp -s "$1.icc" $icc && kept+=(yes) || kept+=(no)
    diff full.jpg.told "$1.told" >differs && kept+=(yes) || kept+=(no)
    cmp -s "$1.xmp" full.jpg.xmp && kept+=(yes) || kept+=(no)
    cmp -s -n "$iptc" "$1.iptc" full.jpg.iptc && kept+=(yes) || kept+=(no)
    local resolution=
    for tag in 'X Resolution' 'Y Resolution' 'Resolution Unit'; do
        value "$1" "$tag"
        resolution+="$said "
    done
    [ "$resolution" = "300 300 2 " ] && kept+=(yes) || kept+=(no)
    value "$1" Orientation
    [ "$said" = 6 ] && kept+=(yes) || kept+=(no)
}

# Every pair of formats, and through other projects' filters, which drop profiles.
files=(full.jpg)
for from in png tif jpg pam; do
    recode full.jpg "one.$from"
    for to in png tif jpg pam; do
        recode "one.$from" "$from-$to.$to"
        if [ $to = pam ]; then recode "$from-pam.pam" "$from-pam.jpg" && files+=("$from-pam.jpg"); else files+=("$from-$to.$to"); fi
    done
done
foreign=()
filter() { # NAME COMMAND...
    local name=$1 to
    shift
    for to in png tif jpg; do
        quiet carn-decode --bare full.jpg | quiet "$@" >through.pam
        quiet carn-encode --as full.jpg "$name.$to" <through.pam
        quiet carn-decode --as full.jpg through.pam | quiet carn-encode "$name-too.$to"
        foreign+=("$name.$to" "$name-too.$to")
    done
}
filter netpbm pamflip -lr
filter gm gm convert pam:- -flop pam:-
filter ffmpeg ffmpeg -v error -f image2pipe -c:v pam -i - -vf hflip -c:v pam -f image2pipe -
told "${files[@]}" "${foreign[@]}"
held "${files[@]}" "${foreign[@]}"
iptc=$(wc -c <full.jpg.iptc)
printf '| %s |\n' 'from | to | ICC | Exif | XMP | IPTC | resolution | orientation' '--- | --- | --- | --- | --- | --- | --- | ---' >table
for from in png tif jpg pam; do
    for to in png tif jpg pam; do
        file=$from-$to.$to
        [ $to = pam ] && file=$from-pam.jpg
        keeps "$file"
        printf '| %s | %s | %s | %s | %s | %s | %s | %s |\n' "$from" "$to" "${kept[@]}" >>table
        case ${kept[*]} in *no*) fail "$from to $to" "$(cat differs)" ;; *) pass "$from to $to keeps all" ;; esac
    done
done
for file in "${foreign[@]}"; do
    keeps "$file"
    case ${kept[*]} in *no*) fail "--bare and --as: $file" "${kept[*]}" "$(cat differs)" ;; *) pass "--bare and --as: $file keeps all" ;; esac
done
sed -n '/^| from/,/^| pam | pam/p' "$TOP/docs/metadata.md" >documented
same "docs/metadata.md has this table" table documented
quiet carn-decode full.jpg | carn-encode bare.ppm 2>notes
[ "$(grep -c 'note: .*left out' notes)" -ge 4 ] && pass "PNM says what it cannot hold" || fail "PNM says what it cannot hold" "$(cat notes)"

# Every orientation; the Exif block agrees with the key. Without any Exif, orientation makes a small
# block of its own.
files=()
quiet carn-decode full.jpg >full.pam
for n in 1 2 3 4 5 6 7 8; do
    sed "s/^#@ orientation .*/#@ orientation $n/; s/^#@ name .*/#@ name turned$n/" full.pam
    sed "s/^#@ orientation .*/#@ orientation $n/; s/^#@ name .*/#@ name only$n/
        /^#@ exif/,/^#@[^+]/ { /^#@+/d; /^#@ exif/d; }" full.pam
    for to in png tif jpg; do
        files+=("turned$n.$to" "only$n.$to")
    done
done >turned.pam
for to in png tif jpg; do
    quiet carn-encode "{name}.$to" <turned.pam
done
told "${files[@]}"
quiet carn-decode "${files[@]}" | grep -a '^#@ orientation' >ours
while read -r file _ _ ours; do
    n=${file%.*}
    n=${n: -1}
    value "$file" Orientation
    [ -z "$said" ] && [ "$file" != "${file#only1}" ] && said=1
    [ "$said" = "$n" ] && [ "$ours" = "$n" ] &&
        pass "orientation $n in $file" || fail "orientation $n in $file" "$said, ours $ours"
done < <(printf '%s\n' "${files[@]}" | paste -d ' ' - ours)
cmp -s only8.png.told turned8.png.told && fail "the Exif was taken out for this" || pass "the Exif was taken out for this"

# Resolution of each kind through each format, to a thousandth.
while read -r x y unit; do
    quiet carn-decode plain.png | sed "/^#@ resolution/d; 2i #@ resolution $x%20$y%20$unit" | quiet carn-encode r.tif
    for to in png tif jpg; do
        recode r.tif "r.$to.$to"
        quiet carn-decode "r.$to.$to" | grep -a '^#@ resolution' | sed 's/%20/ /g' |
            awk -v x="$x" -v y="$y" -v unit="$unit" '{ k = $5 == "inch" ? 1 : 2.54; j = unit == "inch" ? 1 : 2.54
                a = $3 * k / (x * j) - 1; b = $4 * k / (y * j) - 1; exit !(a * a < 9e-6 && b * b < 9e-6) }' &&
            pass "resolution $x $y $unit through $to" || fail "resolution $x $y $unit through $to" "$(quiet carn-decode "r.$to.$to" | grep -a '^#@ resolution')"
    done
done <<'END'
72 72 inch
300 150 inch
118.11 118.11 cm
240.5 240.5 inch
END

# The thumbnail shows the picture before: it goes, with its bytes.
cp base.jpg thumb.jpg
exiftool -q -overwrite_original -EXIF:Artist=x "-ThumbnailImage<=base.jpg" thumb.jpg
for to in jpg png tif; do
    recode thumb.jpg "t.$to"
    [ -z "$(exiftool -s3 -b -ThumbnailImage "t.$to" 2>/dev/null | head -c 10 | tr -d '\0')" ] && [ "$(exiftool -s3 -Artist "t.$to")" = x ] &&
        pass "no thumbnail in $to" || fail "no thumbnail in $to"
done
[ "$(wc -c <t.jpg)" -lt "$(($(wc -c <thumb.jpg) - 1000))" ] && pass "its bytes are gone" || fail "its bytes are gone"

# XMP longer than a JPEG segment: written as an extended packet, and read as one that exiftool wrote.
awk 'BEGIN { printf "<?xpacket begin=\"\xef\xbb\xbf\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n"
    printf "<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
    for (i = 0; i < 1500; i++) printf "<rdf:Description rdf:about=\"\" xmlns:n%d=\"http://example.org/%d/\" n%d:v=\"%099d\"/>\n", i, i, i, i
    printf "</rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"w\"?>" }' >long.xmp
recode plain.png long.tif
exiftool -q -overwrite_original "-xmp<=long.xmp" long.tif
check "long XMP goes into JPEG" sh -c 'carn-decode long.tif 2>/dev/null | carn-encode long.jpg'
exiftool -a -G1 -XMP:all long.tif >want
exiftool -a -G1 -XMP:all long.jpg | grep -v 'Has Extended' >got
same "exiftool finds all of it" got want
[ "$(wc -l <got)" -ge 1500 ] && pass "in 1500 lines or more" || fail "in 1500 lines or more" "$(wc -l <got)"
recode long.jpg back.tif
exiftool -XMP -b back.tif >back.xmp
same "and its bytes come back" back.xmp long.xmp
head -c 90000 /dev/zero | tr '\0' a >description
exiftool -q -o theirs.jpg -XMP:Rating=3 "-XMP-dc:Description<=description" base.jpg
recode theirs.jpg ours.png
exiftool -a -G1 -XMP:all theirs.jpg | grep -v 'Has Extended' >want
exiftool -a -G1 -XMP:all ours.png | grep -v 'Has Extended' >got
same "the extended XMP of another program" got want

# Exif of many cameras (where the package is installed: heads of real files), put before our pixels.
samples=/usr/share/gocode/src/github.com/rwcarlsen/goexif/exif/samples
if [ -d $samples ]; then
    mkdir cameras
    # The APP1 segment begins at byte 2, or at 20 after a JFIF segment.
    /usr/bin/python3 - base.jpg "$samples"/*.jpg <<'END'
import os, sys
base = open(sys.argv[1], "rb").read()
for path in sys.argv[2:]:
    head = open(path, "rb").read(70000)
    for at in 2, 20:
        if head[at:at + 2] == b"\xff\xe1":
            end = at + 2 + int.from_bytes(head[at + 2:at + 4], "big")
            with open(os.path.join("cameras", os.path.basename(path)), "wb") as out:
                out.write(b"\xff\xd8" + head[at:end] + base[2:])
            break
END
    quiet carn-decode cameras/*.jpg >heads.pam
    for to in png jpg tif; do
        quiet carn-encode "cameras/{name}.to.$to" <heads.pam
    done
    quiet told cameras/*
    bad=()
    used=0
    for file in cameras/*.to.tif; do
        name=${file%.to.tif}
        used=$((used + 1))
        # What only JFIF said before may be told by IFD0 now.
        kind=bare
        ! cmp -s "$name.jpg.standard" "$name.jpg.bare" && kind=standard
        for to in png jpg tif; do
            cmp -s "$name.jpg.$kind" "$name.to.$to.$kind" ||
                bad+=("${name##*/} $to" "$(diff "$name.jpg.$kind" "$name.to.$to.$kind" | head -n 5)")
        done
    done
    [ ${#bad[@]} -eq 0 ] && [ $used -gt 40 ] && pass "Exif of $used cameras through PNG, JPEG and TIFF" || fail "Exif of $used cameras" "${bad[@]}"
else
    skip "Exif of many cameras" "no golang-github-rwcarlsen-goexif-dev"
fi

# A profile that libpng would think it knows, or dislikes, stays byte for byte.
mkdir profiles
quiet carn-decode plain.png | sed '/^#@ name/d' >unnamed.pam
for profile in /usr/share/color/icc/colord/*.icc; do
    [ "$(head -c 20 "$profile" | tail -c 4)" = "RGB " ] || continue
    name=${profile##*/}
    name=profiles/${name%.icc}
    { printf 'P7\n#@ name %s\n#@ icc ' "${name##*/}" && base64 -w 60 "$profile" | sed '2,$s/^/#@+ /' && tail -n +2 unnamed.pam; } >"$name.pam"
done
for to in png tif jpg; do
    cat profiles/*.pam | quiet carn-encode "profiles/{name}.$to"
    quiet carn-decode profiles/*."$to" | quiet carn-encode "profiles/{name}-$to.png"
done
exiftool -q -q -icc_profile -b -w! '%d%f.%e.icc' profiles/*.{png,tif,jpg}
for profile in profiles/*.pam; do
    name=${profile%.pam}
    ok=1
    for file in "$name".png "$name".tif "$name".jpg "$name"-{png,tif,jpg}.png; do
        cmp -s "$file.icc" "/usr/share/color/icc/colord/${name##*/}.icc" || ok=0
    done
    [ $ok = 1 ] && pass "profile ${name##*/}" || fail "profile ${name##*/}"
done

# A profile that is made of what a PNG says comes back with --as too.
suite=/usr/share/doc/libsixel-examples/examples/images/pngsuite
file=$(find $suite -name g10n2c08.png 2>/dev/null | head -n 1)
if [ -n "$file" ]; then
    quiet carn-decode "$file" | quiet carn-encode made.png
    quiet carn-decode --bare "$file" | quiet pamflip -lr | quiet carn-encode --as "$file" put.png
    same "a made profile, put back" <(quiet carn-decode made.png | grep -a -A 9 '^#@ icc') <(quiet carn-decode put.png | grep -a -A 9 '^#@ icc')
    quiet carn-decode put.png | grep -aq '^#@ icc' && pass "it is there" || fail "it is there"
else
    skip "a made profile" "no libsixel-examples"
fi
quiet carn-decode --bare full.jpg | ppmtopgm | carn-encode --as full.jpg grey.png 2>err
if grep -q "note: .*no profile is put back" err && ! quiet carn-decode grey.png | grep -aq '^#@ icc'; then pass "grey gets no profile of colours"; else fail "grey gets no profile of colours" "$(cat err)"; fi
finish
