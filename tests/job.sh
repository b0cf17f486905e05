#!/usr/bin/env bash
# Job folders: a whole shoot through carn-job; what is remade, what fails alone, what is said.
# shellcheck source=tests/lib.sh
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$(dirname "$0")/job-lib.sh"
cd "$T" || exit 1
unset MAKEFLAGS MAKELEVEL
remade() { grep -c '^\[' out; } # frames that the last run finished

# ---- carn-step ----
seq 100000 >many
refused "a stage that fails in the middle" carn-step -- cat many '|' carn-decode nothing '|' cat
says "its own message" "^carn-decode: nothing: "
status 2 "a reader that goes away early" carn-step -- cat many '|' head -n 1
says "is told of as that" "cat: the next stage went away"
status 2 "a failing reader is the culprit, not the writer it cut off" carn-step -- cat many '|' carn-encode x.tif
says "by its own message" "^carn-encode: "
# shellcheck disable=SC2016 # for the inner shell
refused "a signal" carn-step -- sh -c 'kill -KILL $$' '|' cat
says "is said" "ended by signal 9"
check "one is no trouble" carn-step -o result -s verdict -- sh -c 'echo found; exit 1'
is "its status is kept elsewhere" "$(cat verdict result)" "1
found"
echo old >result
refused "trouble" carn-step -o result -- sh -c 'echo half; exit 2'
is "leaves no result" "$(ls result* 2>/dev/null)" ""
check "trouble marked" carn-step -f mark -o result -- carn-decode nothing
check "a marked step does nothing" carn-step -f mark -o result -- touch ran
is "but hold its peace" "$(ls ran result 2>/dev/null)$(grep -c nothing mark)" 1
# Held up and let go together, so that all find no mark and leave one.
rm -f mark
for i in $(seq 12); do (carn-step -f mark -- sh -c 'until [ -e go ]; do sleep 0.02; done; exit 2' || echo "$i $?") & done >together
sleep 1 && : >go
wait
is "steps of one frame in trouble at once" "$(cat together)$(wc -l <mark)" 1
echo same | tee kept >/dev/null && touch -d 2020-01-01 kept
check "the same bytes" carn-step -k -o kept -- echo same
is "leave a file its time" "$(date -r kept +%Y)" 2020
refused "no pipeline" carn-step -o x --
refused "an empty stage" carn-step -- cat '|' '|' cat

# ---- a whole shoot ----
shoot job birk celia daro emre fenna hedda imani jomo kesi
cp -a job/frames originals
(trap '' PIPE && exec carn-step -- carn-decode originals/north-*.tif '|' carn-encode nowhere/x.tif) 2>err
is "the culprit is found also where SIGPIPE is ignored" "$? $(cat err)" "2 carn-encode: nowhere/x.tif: cannot be made: No such file or directory"
start=$SECONDS
status 0 "54 pictures, two cameras, nine singers" carn-job job
is "54 are delivered, in $((SECONDS - start)) s" "$(find job/out -type f | wc -l) $(remade)" "54 54"
is "each with its line and a running count" "$(grep -c '^\[[0-9]*/54\] .*M/C .* to .*, \(on\|held\)' out)" 54
is "the summary's last line is the status" "$(tail -n 1 job/report/summary.tsv)" "$(printf 'status\t0')"
is "it opens with the set" "$(sed -n 2p job/report/summary.tsv | cut -f 1-3)" "$(printf 'spread\tbirk\thue')"
is "18 frames in each depth" "$(awk -F '\t' '$1 == "verdict" { n[$2] += $4 } END { print n["light"], n["medium"], n["deep"] }' job/report/summary.tsv)" "18 18 18"
holds "hue, chroma and ratios come closer, over frames and across cameras, in the mean by half" \
    'c["about"] != "mean" || c["after"] < c["before"] / 2' job/report/summary.tsv
diff -r originals job/frames >/dev/null && pass "originals are as they were" || fail "originals are as they were"
sums job >undisturbed

check "run again" carn-job job
is "nothing is remade" "$(remade)" 0
touch job/frames/south-emre-2.tif
check "one original touched" carn-job job
is "its frame is remade, its group not" "$(remade)" 1
touch job/frames/north-birk-1.tif
check "the card's original touched" carn-job job
is "the neutral has the same bytes, so that frame alone" "$(remade)" 1
is "all with the same bytes" "$(sums job | cmp - undisturbed 2>&1)" ""
cp originals/south-emre-3.tif job/frames/south-emre-2.tif
status 0 "one original replaced" carn-job job
is "the singer's colour changed: the six frames of both cameras" "$(remade)" 6
cp originals/south-emre-2.tif job/frames/south-emre-2.tif
touch -d 2020-01-01 job/frames/south-emre-2.tif
check "put back, with an older time" carn-job job
is "is seen" "$(remade)" 6
is "and gives the bytes of before" "$(sums job | cmp - undisturbed 2>&1)" ""
rm job/out/north-daro-3.tif
check "a delivered picture taken away" carn-job job
is "is made again" "$(remade) $(find job/out -type f | wc -l)" "1 54"
sed -i 's/^north-imani-2.tif\tforehead\tmiddle\t[0-9.]*%/north-imani-2.tif\tforehead\tmiddle\t50.9%/' job/patches.tsv
check "a patch moved on one picture" carn-job job
is "its group alone is looked at" "$(grep '^\[' out | grep -vc imani)" 0

# ---- audit, clean-work ----
status 1 "audit measures only" carn-job job audit
is "all pictures" "$(tail -n +2 job/report/before.tsv | cut -f 1 | sort -u | wc -l)" 54
sums job | grep out/ | grep -v imani | cmp -s - <(grep out/ undisturbed | grep -v imani) && pass "and delivers nothing" || fail "and delivers nothing"
check "clean-work" carn-job job clean-work
is "leaves nothing under work" "$(ls job/work)" ""
check "all again" carn-job job
sums job | grep -v -e imani -e report/ | cmp -s - <(grep -v -e imani -e report/ undisturbed) && pass "the same pictures" || fail "the same pictures"

# ---- provenance: from the row and the original, bit for bit ----
remake() { # JOB FRAME OUT: with nothing but the row of provenance.tsv and the original
    awk -F '\t' -v frame="$2" '
        function table(cell, head, file,  n, i, row) {
            print head > file
            if (cell != "-") { n = split(cell, row, " [|] "); for (i = 1; i <= n; i++) { gsub(/ ; /, "\t", row[i]); print row[i] > file } }
        }
        NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; head = "kind\tfrom\tto\tasked\tnote" }
        $1 == frame {
            table($at["neutral"], head, "p.neutral"); table($at["curve"], head, "p.curve"); table($at["look"], head, "p.look")
            table($at["weight"], "L\ta\tb\ttone\tspread", "p.readings")
            print $at["weight"] != "-" ? "yes" : "no" > "p.skin"; print $at["profile"] > "p.profile"; print $at["encode"] > "p.encode"
        }' "$1/report/provenance.tsv"
    local encode=() into=(cat)
    [ "$(cat p.encode)" = - ] || read -ra encode <p.encode
    [ "$(cat p.profile)" = - ] || into=(carn-to-profile -o "$(cat p.profile)")
    carn-decode "$1/frames/$2" | if [ "$(cat p.skin)" = yes ]; then
        carn-curve-apply -c p.neutral | carn-skin-weight -r p.readings | carn-curve-apply -c p.curve |
            carn-encode -b 16 -t pam - | carn-decode --as "$1/frames/$2" - | carn-curve-apply -c p.look
    else
        carn-curve-apply -c p.neutral -c p.curve -c p.look
    fi 2>/dev/null | "${into[@]}" | carn-encode "${encode[@]}" "$3" 2>/dev/null
}
remake job south-kesi-2.tif remade-south-kesi-2.tif
same "a picture remade from its row" remade-south-kesi-2.tif job/out/south-kesi-2.tif
is "the row holds the checksums" "$(cut -f 17,18 job/report/provenance.tsv | grep -c "$(sha256sum <job/frames/south-kesi-2.tif | cut -d ' ' -f 1)	$(sha256sum <job/out/south-kesi-2.tif | cut -d ' ' -f 1)")" 1
check "carn-explain" carn-explain -j job south-kesi-2
is "takes ten lines" "$(wc -l <out)" 10
grep -q '^3 card .*south-birk-1.tif: neutral L\*' out && grep -qE '^7 curve .*(move|turn) L\*' out && grep -q '^10 verdict *\(on\|held\)' out &&
    pass "with card, moves and verdict" || fail "with card, moves and verdict" "$(cat out)"
refused "explain a frame that is not there" carn-explain -j job nobody.tif

# ---- one bad frame, a bad card, an off frame ----
head -c 100000 originals/south-hedda-2.tif >job/frames/south-hedda-2.tif
status 2 "one corrupt frame among 54" carn-job job
# Its singer's colour is of the five others now.
others() { grep ' out/' | grep -v -e imani -e north-hedda -e 'south-hedda-[13]'; }
is "its picture of before is kept, those of other groups are as they were" "$(find job/out -type f | wc -l) $(sums job | others | cmp - <(others <undisturbed) 2>&1)" "54 "
grep -q '^person	south-hedda-2.tif	not renewed	' job/report/summary.tsv && pass "and listed as not renewed" || fail "and listed as not renewed"
grep -q '^person	south-hedda-2.tif	failed	.*frames\|^person	south-hedda-2.tif	failed	.*south-hedda-2.tif: ' job/report/summary.tsv && pass "the summary names it" || fail "the summary names it" "$(grep hedda job/report/summary.tsv)"
is "its message is in its tables, which have no row" "$(cat job/work/frame/*-south-hedda-2.tif/readings.tsv | sed 's/^\(# failed: \).*south-hedda-2.tif.*/\1/; s/^frame\t.*/frame/' | tr '\n' ' ')" "# failed:  frame "
is "the last line says 2" "$(tail -n 1 job/report/summary.tsv | cut -f 2)" 2
cp originals/south-hedda-2.tif job/frames/
check "mended" carn-job job
is "54 again" "$(find job/out -type f | wc -l)" 54
head -c 100000 originals/north-birk-1.tif >job/frames/north-birk-1.tif
status 2 "the frame with the card corrupt" carn-job job
is "the others are delivered, without the neutral step" "$(awk -F '\t' 'NR > 1 && $2 ~ /^north/ && $11 == "-"' job/report/provenance.tsv | wc -l)" 26
grep -q '^person	north-birk-1.tif	card	.*27 frames' job/report/summary.tsv && pass "the card is told of" || fail "the card is told of" "$(cut -c 1-200 job/report/summary.tsv | grep birk)"
cp originals/north-birk-1.tif job/frames/
"$SCENE" -s emre --camera south --strength 4 --seed 2 -w 240 -h 320 -n south-emre-2.tif | carn-encode job/frames/south-emre-2.tif
status 1 "an off frame" carn-job job
is "everything is delivered" "$(find job/out -type f | wc -l)" 54
grep -q '^person	south-emre-2.tif	off	' job/report/summary.tsv && grep -q '^person	south-emre-2.tif	outlier	.*lies [0-9.]* from' job/report/summary.tsv &&
    pass "it is named as off and as an outlier, with how far" || fail "it is named as off and as an outlier" "$(grep emre job/report/summary.tsv)"
cp originals/south-emre-2.tif job/frames/

shoot small emre jomo
# ---- approved ----
check "a small shoot" carn-job small
sha256sum <small/out/south-emre-1.tif >approved
sed -i 's/^\(south-emre-1.tif\t.*\)\t-$/\1\tyes/' small/job.tsv
sed -i '1i AIM = skin' small/Makefile
carn-job small >out 2>err
same "an approved picture is left as it is" approved <(sha256sum <small/out/south-emre-1.tif)
grep -q '^person	south-emre-1.tif	approved	' small/report/summary.tsv && pass "and the run says so" || fail "and the run says so"
carn-job small clean-work
carn-job small >out 2>err
same "also after clean-work" approved <(sha256sum <small/out/south-emre-1.tif)
remake small south-emre-1.tif remade-south-emre-1.tif
same "its row is that of the picture" remade-south-emre-1.tif small/out/south-emre-1.tif
sed -i 's/\tyes$/\t-/' small/job.tsv
carn-job small >out 2>err
[ "$(sha256sum <small/out/south-emre-1.tif)" != "$(cat approved)" ] && pass "no more when approval is taken back" || fail "no more when approval is taken back"

sed -i '/^AIM = skin/d' small/Makefile

# ---- cards of unequal exposure ----
printf 'kind\tfrom\tto\nneutral\t50 0 0\t42 0 0\n' >dark.curve
cp -a small dark
for frame in small/frames/south-*; do
    carn-decode "$frame" | carn-curve-apply -c dark.curve 2>/dev/null | carn-encode "dark/frames/${frame##*/}"
done
carn-job dark >out 2>err
stops=$(awk -F '\t' '$1 == "person" && $3 == "exposure" { split($7, w, " "); print w[3] }' dark/report/summary.tsv)
awk -v stops="$stops" 'BEGIN { exit !(stops > .52 && stops < .62) }' && pass "cards that differ by a known 0.56 stops: $stops" || fail "cards that differ by 0.56 stops" "$stops"
sed -i '1i EQUALISE = yes' dark/Makefile
carn-job dark >out 2>err
spread=$(awk -F '\t' '$1 ~ /emre/ { if (!n++ || $13 < low) low = $13; if ($13 > high) high = $13 } END { print high - low }' dark/report/before.tsv)
awk -v spread="$spread" 'BEGIN { exit !(spread < 1.5) }' && pass "equalised, one singer has one lightness before both cameras: within $spread" || fail "equalised" "$spread"

# ---- settings ----
printf 'kind\tfrom\tto\tasked\tnote\nknot\tB 0.5\tB 0.53\t-\twarm\n' >look.curve
printf 'STRENGTH = 0.5\nFORMAT = jpg\nQUALITY = 90\nLOOK = ../look.curve\nCURVE = frame\nEQUALISE = yes\n' | cat - small/Makefile >m && mv m small/Makefile
status 0 "half strength, JPEG, a look, a curve a frame" carn-job small
is "JPEG files" "$(find small/out -name '*.jpg' | wc -l) $(head -c 2 small/out/south-jomo-1.jpg | od -An -tx1)" "12  ff d8"
is "12 curves" "$(find small/work/group -name 'curve-*.tsv' | wc -l)" 12
# Against the same readings solved whole.
for curve in small/work/group/*/curve-*.tsv; do
    number=${curve##*/curve-} aim=(-a common)
    [ ! -f "${curve%/*}/aim.tsv" ] || aim=(--by-subject -f "${curve%/*}/aim.tsv")
    paste <(carn-curve-solve "${aim[@]}" "${curve%/*}/pooled-$number" 2>/dev/null | cut -f 1-3) <(cut -f 1-3 "$curve")
done | awk -F '\t' '$1 ~ /move|turn/ { split($2, f, " "); split($3, t, " "); split($6, h, " "); n++
    for (i = 2; i <= 3; i++) if ((h[i] - f[i] - (t[i] - f[i]) / 2)^2 > 1e-6) bad++ } END { exit n < 12 || bad }' &&
    pass "each move goes half the way of the whole one" || fail "each move goes half the way of the whole one"
[ -n "$(find small/work/frame -path "*-south-jomo-1.tif/plain.tsv" -size +0)" ] && pass "judged before the look" || fail "judged before the look"
holds "cards at one level" 'c["kind"] != "neutral" || c["to"] ~ /^61\.[67]/' small/work/card/*-south-emre-1.tif/neutral.tsv
if [ -x "$BIN/carn-skin-weight" ] && [ -x "$BIN/carn-to-profile" ]; then
    cp small/Makefile keep.mk
    sed -i '1i SKIN = no\nPROFILE = p3-d65' small/Makefile
    status 0 "the whole picture moves, delivered in another profile" carn-job small
    is "no more and no less pictures" "$(find small/out -name '*.jpg' | wc -l)" 12
    remake small south-jomo-1.tif remade.jpg
    same "remade from its row, without a weight" remade.jpg small/out/south-jomo-1.jpg
    is "which says so" "$(carn-facts small/out/south-jomo-1.jpg 2>/dev/null | cut -f 8 | grep -ci p3)" 1
    cp keep.mk small/Makefile
fi
for bad in 'AIM = nothing' 'FORMAT = gif' 'STRENGTH = 2' 'SKIN = maybe' 'PROFILE = nowhere.icc' 'LOOK = nowhere' 'SEPARATION = nowhere' 'CURVE = both' 'QUALITY = 0'; do
    sed "1i $bad" small/Makefile | grep -v "^${bad%% =*} = [^${bad##* }]" >m && cp m bad.mk
    cp small/Makefile keep.mk && cp bad.mk small/Makefile
    carn-job small >out 2>err
    is "$bad is refused" "$?" 2
    cp keep.mk small/Makefile
done

# ---- bad tables ----
printf 'picture\nx\n' >small/job.tsv
refused "a job table without frames" carn-job small
refused "a target that is none" carn-job small everything
refused "a folder that is none" carn-job nowhere
refused "no job" carn-job

# ---- odd names, cards and groups of settings, through carn-job-new ----
# shellcheck disable=SC2016 # $HOME is part of a name
odd=('two words.tif' "quo'te\".tif" '$HOME.tif' '#x.tif' 'a:b=c.tif' '100%.tif' '50%25.tif' 'Ääni Müller.tif' '-dash.tif' '.hidden.tif' $'new\nline.tif' 'semi;$(x)`y`|&<>.tif' 'back\slash.tif' '*?[a].tif' 'PLUS+2B.tif' 'none' "$(printf 'l%.0s' $(seq 200)).tif")
mkdir originals/odd
k=0
for name in "${odd[@]}"; do
    k=$((k + 1))
    "$SCENE" -s emre --seed $k -w 160 -h 200 | carn-encode -t tif "originals/odd/x" && mv originals/odd/x "originals/odd/$name"
done
"$SCENE" -s emre --card -w 160 -h 200 | carn-encode 'originals/odd/0 card.tif'
check "a job of odd names" carn-job-new -n 8 odd originals/odd/* originals/odd/.hidden.tif
is "has a link each" "$(find odd/frames -type l -printf x | wc -c)" 18
grep -q '^0 card.tif	card	card	' odd/patches.tsv && grep -q 'card: 0 card.tif at .* sure (' out && pass "guesses the card, and says how sure it is" || fail "guesses the card" "$(cat out)"
printf '*\tbrow\tmiddle\t51.4%%\t30%%\t5.8%%\t4%%\n' >>odd/patches.tsv
sed -i 's/\t-\t-\t0 card.tif/\temre\tnorth\t0 card.tif/' odd/job.tsv
carn-job odd >out 2>err
[ $? -lt 2 ] && pass "none of them fails" || fail "none of them fails" "$(cat err)"
is "all are delivered" "$(find odd/out -type f -printf x | wc -c) $(grep -c 'failed:' out)" "18 0"
bad=0
for name in "${odd[@]}"; do [ -s "odd/out/$name" ] || bad=$((bad + 1)); done
is "each under its own name" "$bad" 0
# shellcheck disable=SC2016 # as above
is "the summary knows them" "$(cut -f 1 odd/report/after.tsv | grep -cxF -e "quo'te\".tif" -e '$HOME.tif' -e 'new%0Aline.tif' -e '50%2525.tif')" 4
check "explain one" carn-explain -j odd -- '-dash.tif'
# shellcheck disable=SC2016 # as above
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

if have exiftool; then
    # Two cameras that count alike, pauses between singers, a change of light.
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
else
    skip "groups by settings and time" "no exiftool"
fi
finish
