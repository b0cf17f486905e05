#!/usr/bin/env bash
# Job folders through carn-job-new: odd names, cards guessed, cameras and subjects told by Exif.
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"

# ---- odd names, cards and groups of settings, through carn-job-new ----
odd=('two words.tif' "quo'te\".tif" '$HOME.tif' '#x.tif' 'a:b=c.tif' '100%.tif' '50%25.tif' 'Ääni Müller.tif' '-dash.tif' '.hidden.tif' $'new\nline.tif' 'semi;$(x)`y`|&<>.tif' 'back\slash.tif' '*?[a].tif' 'PLUS+2B.tif' 'none' "$(printf 'l%.0s' $(seq 200)).tif")
mkdir -p originals/odd
k=0
for name in "${odd[@]}"; do
    k=$((k + 1))
    "$SCENE" -s emre --seed $k -w 160 -h 200 | carn-encode -t tif "originals/odd/x" && mv originals/odd/x "originals/odd/$name"
done
"$SCENE" -s emre --card -w 160 -h 200 | carn-encode 'originals/odd/0 card.tif'
check "a job of odd names" carn-job-new -n 8 odd originals/odd/* originals/odd/.hidden.tif
is "has a link each" "$(find odd/frames -type l -printf x | wc -c)" 18
grep -q '^0 card.tif	card	card	' odd/patches.tsv && grep -q 'card: 0 card.tif at .* 100 % sure' out && pass "guesses the card, and says how sure it is" || fail "guesses the card" "$(cat out)"
printf '*\tbrow\tmiddle\t51.4%%\t30%%\t5.8%%\t4%%\n' >>odd/patches.tsv
sed -i 's/\t-\t-\t0 card.tif/\temre\tnorth\t0 card.tif/' odd/job.tsv
carn-job odd >out 2>err
[ $? -lt 2 ] && pass "none of them fails" || fail "none of them fails" "$(cat err)"
is "all are delivered" "$(find odd/out -type f -printf x | wc -c) $(grep -c 'failed:' out)" "18 0"
bad=0
for name in "${odd[@]}"; do [ -s "odd/out/$name" ] || bad=$((bad + 1)); done
is "each under its own name" "$bad" 0
is "the summary knows them" "$(cut -f 1 odd/report/after.tsv | grep -cxF -e "quo'te\".tif" -e '$HOME.tif' -e 'new%0Aline.tif' -e '50%2525.tif')" 4
check "explain one" carn-explain -j odd -- '-dash.tif'
check "explain another" carn-explain -j odd '$HOME.tif'
sums odd >first
touch "odd/frames/#x.tif"
carn-job odd >out 2>err
is "one of them touched: made again, to the same bytes" "$(remade) $(sums odd | cmp - first 2>&1)" "1 "
printf 'x\ttext by a person\t-\t-\t-\n' >>odd/job.tsv
cp odd/job.tsv edited
"$SCENE" -s emre --seed 99 -w 160 -h 200 | carn-encode originals/later.tif
head -c 500 originals/later.tif >originals/broken.tif
status 2 "an unreadable file" carn-job-new -c odd originals/later.tif originals/broken.tif
says "is told of" "broken.tif"
is "rows that stand are kept, new ones added" "$(head -n "$(wc -l <edited)" odd/job.tsv | cmp - edited && tail -n 2 odd/job.tsv | cut -f 1 | tr '\n' ' ')" "broken.tif later.tif "
is "the new ones are copies" "$(find odd/frames -type f | wc -l)" 2
is "originals keep one name" "$(stat -c %h originals/later.tif)" 1
refused "a job of nothing" carn-job-new empty originals/nowhere

if needs "groups by settings and time" exiftool; then
    # Two cameras with the same file names, pauses between singers, a change of light.
    mkdir -p shots/a shots/b
    minute=0
    for camera in a b; do
        for k in 1 2 3 4; do
            card=() iso=200
            [ $k -gt 1 ] || card=(--card)
            [ $camera$k != b4 ] || iso=800
            "$SCENE" -s emre --seed $k -w 160 -h 200 "${card[@]}" | carn-encode -b 8 shots/$camera/DSC_$k.jpg
            minute=$((k < 3 ? k : k + 10))
            exiftool -q -overwrite_original -Make=Invented -Model="Choir $camera" -ISO=$iso -ExposureTime=1/125 -FNumber=5.6 \
                -DateTimeOriginal="2026:11:25 19:$((10 + minute)):00" shots/$camera/DSC_$k.jpg
        done
    done
    check "pictures of two cameras with the same names" carn-job-new shoot shots
    is "all are in" "$(cut -f 1 shoot/job.tsv | tail -n +2 | sort | tr '\n' ' ')" "DSC_1.jpg DSC_2.jpg DSC_3.jpg DSC_4.jpg b-DSC_1.jpg b-DSC_2.jpg b-DSC_3.jpg b-DSC_4.jpg "
    is "with camera, card and a subject after each pause" "$(awk -F '\t' '$1 ~ /^b-DSC_[14]/ { print $2, $3, $4 }' shoot/job.tsv | tr '\n' ',')" \
        "subject-01 Invented Choir b b-DSC_1.jpg,subject-02 Invented Choir b b-DSC_1.jpg,"
    printf '*\tbrow\tmiddle\t51.4%%\t30%%\t5.8%%\t4%%\n' >>shoot/patches.tsv
    carn-job shoot >out 2>err
    grep -q '^person	card b-DSC_1.jpg	settings	-	-	-	iso differs under one card: 200 (3 frames), 800 (1 frame: b-DSC_4.jpg)' shoot/report/summary.tsv &&
        pass "settings that differ under a card are told of" || fail "settings that differ under a card" "$(grep settings shoot/report/summary.tsv)"
fi

# ---- one person under two names ----
# Composed, all capitals, decomposed; the last two are two people.
mkdir -p alike/frames
printf 'include $(or $(CARN_RULES),$(shell carn-job --rules))\n' >alike/Makefile
printf 'frame\tpatch\ttone\tx\ty\tw\th\n' >alike/patches.tsv
printf 'frame\tsubject\tcamera\tcard\tapproved\n' >alike/job.tsv
printf '%s.tif\t%s\t%s\t-\t-\n' a Zoë north b ZOË North c $'Zoe\xcc\x88, birk' north d 周 north e 王 north >>alike/job.tsv
touch alike/frames/{a,b,c,d,e}.tif
check "a dry run" carn-job -n alike
is "tells of them before anything is made" "$(sed -n 's/^note: \(.* only\) in .*/\1/p' out)" \
    $'ZOË and Zoe\xcc\x88 differ only\nZoe\xcc\x88 and Zoë differ only\nNorth and north differ only'
carn-job alike >out 2>err
is "names that differ in capitals or accents are noted" "$(grep differ alike/work/notes.tsv)" \
    $'ZOË and Zoe\xcc\x88 differ only in capitals or accents: two people\nZoe\xcc\x88 and Zoë differ only in capitals or accents: two people\nNorth and north differ only in capitals or accents: two cameras'
is "and stand in the summary" "$(grep -c '^person	job.tsv	row	.* differ only' alike/report/summary.tsv)" 3
finish
