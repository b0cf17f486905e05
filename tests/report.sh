#!/usr/bin/env bash
# The report of a job: what its pages hold, and how they look and work in a browser.
# SHOTS, a folder (its whole path), keeps the screenshots to look at.
# shellcheck disable=SC2317 # multiply is called through check
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"

multiply() { python3 "$TOP/tests/pages/multiply.py" "$@"; } # JOB TO FRAMES

takes=2 shoot job birk imani
add job south-imani-3.tif imani south south-birk-1.tif --seed 3
grep -v imani job/patches.tsv >rows && cp rows job/patches.tsv # faces are found
"$SCENE" -s imani --camera south --strength 4 --seed 2 -w 240 -h 320 -n south-imani-2.tif | carn-encode job/frames/wrong.tif
pamcat -topbottom <(pgmmake -maxval 65535 1 240 315) <(pgmmake -maxval 65535 0 240 5) >alpha.pgm # JPEG holds none
pamstack -quiet -tupletype=RGB_ALPHA <(carn-decode --bare job/frames/wrong.tif) alpha.pgm | carn-decode --as job/frames/wrong.tif - | carn-encode job/frames/south-imani-2.tif
rm job/frames/wrong.tif
head -c 3000 job/frames/north-birk-2.tif >short && mv short job/frames/north-birk-2.tif
# Names that would end an element or an attribute.
evil='<img src=x onerror=alert(1)>"&'\'
awk -F '\t' -v OFS='\t' -v evil="$evil" '$2 == "imani" { $2 = evil } { sub(/south/, "so<img src=x>&", $3) } 1' job/job.tsv >rows && cp rows job/job.tsv
three='three<img src=x>&.tif' # a deep, a light and a medium one, from left to right
"$SCENE" -s celia --with fenna --with lamin --camera north -w 450 -h 360 -n "$three" | carn-encode "job/frames/$three"
printf '%s\tlamin, celia, fenna\tnorth\tnorth-birk-1.tif\t-\n' "$three" >>job/job.tsv
status 2 "a job with a frame that is off and one that fails" carn-job job
cd job/report || exit 1
is "names, people and cameras are escaped everywhere" "$(cat index.html contact.html | grep -c '<img src=x') $(grep -c '&lt;img src=x onerror=alert(1)&gt;&quot;&amp;&#39;' index.html | awk '{ print ($1 > 3) }') $(grep -c 'so&lt;img src=x&gt;south' index.html | awk '{ print ($1 > 3) }') $(cat index.html contact.html | grep -c 'three&lt;img src=x&gt;&amp;.tif' | awk '{ print ($1 > 3) }')" "0 1 1 1"
is "the pages allow nothing from outside" "$(grep -hoE "default-src 'none'.*sha256-[A-Za-z0-9+/=]{44}'" index.html contact.html | wc -l) $(grep -hoE '(src|href)="[a-z]*:?//' index.html contact.html | wc -l)" "2 0"
is "each plot has a title, a text alternative and its table" "$(grep -c '<svg viewBox="0 0 560' index.html) $(grep -c '<title id=' index.html) $(grep -o '<desc id="[a-z-]*">[^<]' index.html | wc -l) $(grep -c '<summary>Figures</summary>' index.html)" "8 8 8 8"
is "a camera is named alike in all keys" "$(grep -o '</svg> [a-z ]*north</span>' index.html | sort | uniq -c | sed 's/^ *//')" "6 </svg> camera north</span>"
is "the tables printed fit 80 columns, whatever the names" "$(sed '/^What needs a person/,$d' summary.txt | awk 'length > 80 { print }')" ""
# imani has three frames by one camera, birk two by each, the others one.
is "whoever has more than two frames by a camera has the whole width" "$(grep -oE '<section id="p-[0-9]+" class="person[a-z ]*"><h3>[a-z&;]{4}' index.html | sed 's/.*class=//; s/><h3>/ /' | sort | uniq -c | sed 's/^ *//')" '1 "person many" &lt;
1 "person" birk
1 "person" celi
1 "person" fenn
1 "person" lami'
is "worst first" "$(grep -oE '<tr id="f-[^"]*"[^>]*data-verdict="[a-z]*"' index.html | head -n 2 | sed 's/.*verdict=//' | tr -d '\n')" '"failed""off"'
is "a link for each to look at" "$(sed -n '/id="needs"/,/<\/section>/p' index.html | grep -c 'href="#f-.*\(north-birk-2\|south-imani-2\).tif">')" 3
check "summary.json has the rows of summary.tsv, and the form that carn-job(5) gives it" python3 -c '
import csv, json, re, sys
rows = list(csv.DictReader(open("summary.tsv"), delimiter="\t", quoting=csv.QUOTE_NONE))
said = json.load(open("summary.json"))
counts = ["frames", "on", "held", "unsure", "off", "failed", "as_it_is"]
texts, figures = ["part", "about", "what", "note"], ["frames", "before", "after"]
assert sorted(said) == sorted(["form", "rows", "status", *counts]), sorted(said)
assert all(type(said[key]) is int for key in ["form", "status", *counts]) and said["form"] == 1
assert said["status"] == int(rows[-1]["about"]) == 2, said["status"]
assert len(said["rows"]) == len(rows) - 1
for row, one in zip(rows, said["rows"]):
    assert sorted(one) == sorted(texts + figures), one
    for key in texts:
        assert type(one[key]) is str and row[key] == one[key], (row, one)
    for key in figures:
        assert one[key] is None if row[key] == "-" else float(row[key]) == one[key] and type(one[key]) in (int, float), (row, one)
assert said["failed"] == 1 and said["off"] == 1 and said["frames"] == 10
assert said["frames"] == sum(said[key] for key in counts[1:])
page = open(sys.argv[1]).read()
told = page[page.index("\n.Pa summary.json\n"):page.index("A frame is an outlier")]
told = sum((line[4:].replace(" ,", ",").replace(",", " ").split() for line in told.splitlines() if re.match(r"\.(It )?Li ", line)), [])
told = [word for word in told if word not in ("Li", "It")]
assert set(told) == set(said) | set(said["rows"][0]), told' "$TOP/docs/carn-job.5"
people() { sed -n '/<h2 id="people"/,/<h2 id="plots"/p' index.html; }
is "three people of a frame have a strip each, with their own face" "$(people | grep -o '[a-z_]*.tif.after.face-[0-9].jpg' | grep three | sed 's/.*after/after/' | sort | tr '\n' ' ')" "after.face-1.jpg after.face-2.jpg after.face-3.jpg "
holds "its figures are of all, before and after" 'c["frame"] !~ /^three/ || (abs(c["before_L"] - c["after_L"]) < 0.5 && abs(c["shot_L"] - c["after_L"]) < 1)' frames.tsv
is "named from left to right, each with a turn of their own" "$(awk -F '\t' '$1 ~ /^three/ && $4 ~ /^face-/ { print $4, $2 }' after.tsv | sort -u | tr '\n' ' ') $(tsv '$h["frame"] ~ /^three/ { print gsub(/ [|][|] /, "", $h["curve"]) + 1 }' provenance.tsv)" "face-1 lamin face-2 celia face-3 fenna  3"
holds "which brings every tone of each to their own colour" 'c["frame"] !~ /^three/ || (c["aim"] == c["subject"] && c["ciede2000"] < 0.1 && abs(c["dL"]) < 0.05)' after.tsv
carn-facts pictures/*.jpg >facts
holds "all pictures are tagged sRGB" 'c["profile"] ~ /sRGB/' facts
carn-facts pictures/*-three*.face-*.jpg >facts
holds "faces are pictures of their own" 'abs(c["height"] / c["width"] - 1.25) < 0.02' facts
# A picture is the one that the figures beside it were measured on.
face=south-imani-1.tif
id=$(awk -F '\t' -v name=$face '$2 == name { print $1 }' ../work/frames.tsv)
awk -F '\t' -v OFS='\t' -v name=$face 'NR == 1 { print } $1 == name { $1 = "*"; print }' patches.tsv >where
for which in before after; do
    carn-decode "pictures/$id.$which.jpg" | carn-sample -p where >shown 2>/dev/null
    awk -F '\t' -v name=$face 'NR == 1 || $1 == name' $which.tsv | cut -f 13-15 | sed '1s/[^\t]*/was_&/g' | paste shown - >both
    holds "the picture $which is the one measured" 'abs(c["L"] - c["was_L"]) < 0.3 && abs(c["a"] - c["was_a"]) < 0.6 && abs(c["b"] - c["was_b"]) < 0.6' both
done
cd ../.. || exit 1
cp -r job/report before
check "written again" carn-job-report job
diff -r before job/report >/dev/null && pass "it has the same bytes" || fail "it has the same bytes"
is "what the report's own pictures leave out is no note" "$(grep -c alpha before/summary.tsv) $(carn-decode job/frames/south-imani-2.tif | carn-encode a.jpg 2>&1 | grep -c alpha)" "0 1"
# Notes of one kind with other figures, and hues to both sides of 0.
cp -r job sides
for k in 1 2; do
    for take in measured delivered; do
        echo "carn-x: note: work/1-north-imani-$k.tif/new.jpg: lost $k.5 of 9 pixels" >>"$(echo sides/work/frame/*-north-imani-$k.tif)/$take.notes"
    done
    awk -F '\t' -v OFS='\t' -v hue=$((k * 358 - 357)) 'NR == 1 { for (i = 1; i <= NF; i++) if ($i == "hue") at = i } NR > 1 && $0 !~ /^#/ { $at = hue } 1' \
        "$(echo sides/work/frame/*-north-imani-$k.tif)/shot.tsv" >shot && cp shot "$(echo sides/work/frame/*-north-imani-$k.tif)/shot.tsv"
done
check "written with them" carn-job-report sides
holds "no two hues lie over 180 degrees apart" 'c["part"] != "spread" || c["what"] != "hue" || c["about"] !~ /^<img/ || c["before"] <= 180' sides/report/summary.tsv
is "a note stands once, with the frames that have it" "$(grep 'note: .*lost' sides/report/summary.txt)" "note: lost 1.5 of 9 pixels (2 frames: north-imani-1.tif ...)"

# ---- in a browser ----
# The small job's pages; and whole, in make check, those of CARN_PAGES, a finished job, and of 300 frames of it.
browser=$(command -v chromium || true)
npm=$TOP/build/npm
if [ -z "$browser" ] || ! have node || [ ! -e "$npm/node_modules/.package-lock.json" ]; then
    skip "the pages in a browser" "no chromium, node or packages of npm: scripts/setup test"
    finish
fi
# look JOB WIDTHS: with what it says as tests and diagnostics.
look() {
    local line shots=
    [ -z "${SHOTS:-}" ] || { shots=$SHOTS/$1 && mkdir -p "$shots"; }
    node "$TOP/tests/pages/look.cjs" "$npm" "$browser" "$1/report" "$2" "$shots" >said 2>&1
    while IFS= read -r line; do
        case $line in
        '# '*) echo "# $1: ${line#'# '}" ;;
        ok\ *) pass "$1: ${line#ok }" ;;
        *) fail "$1: ${line#not ok }" ;;
        esac
    done <said
    is "$1: all was looked at" "$(tail -n 1 said)" "# all was looked at"
}
check "24 frames are laid out" multiply job set 24
sed -i 's/^FOLLOW\tnone$/FOLLOW\teast/' set/work/frame/*/deliver.tsv # a camera by which nobody has a picture
status 0 "a job of 24 frames" carn-job-report set
is "a person who needs one is linked" "$(grep -c '<a href="#p-0">birk</a>' set/report/index.html) $(grep -c '<section id="p-0"' set/report/index.html)" "2 1"
look set 1280
# What a person dragged is what carn-sample takes.
{ head -n 1 set/patches.tsv && cat set/report/dragged; } >row
frame=$(cut -f 1 set/report/dragged)
carn-decode "set/frames/$frame" 2>/dev/null | carn-sample -p row >readings 2>/dev/null
is "a dragged row is read as a face" "$(tail -n +2 readings | cut -f 5 | tr '\n' ' ')" "light middle shade "
[ -n "${CARN_PAGES:-}" ] || finish

cp -r "$CARN_PAGES" whole
is "people of one picture a camera stand close" "$(grep -c 'class="persons single"' whole/report/index.html) $(grep -c 'class="persons single"' set/report/index.html)" "1 0"
look whole 400,1280,2000
check "300 frames are laid out" multiply whole many 300
status 0 "a job of 300 frames" carn-job-report many
is "has 300 rows" "$(grep -c '<tr id="f-' many/report/index.html)" 300
size=$(wc -c <many/report/index.html)
[ "$size" -lt 2000000 ] && pass "in under 2 MB ($size bytes)" || fail "in under 2 MB" "$size"
look many 400,1280,2000
finish
