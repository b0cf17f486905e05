#!/usr/bin/env bash
# The report of a job: what its pages hold, and how they look and work in a browser.
# SHOTS, a folder, keeps the screenshots to look at.
# shellcheck disable=SC2317 # multiply is called through check
# shellcheck source=tests/lib.sh
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$(dirname "$0")/job-lib.sh"
cd "$T" || exit 1
unset MAKEFLAGS MAKELEVEL

# multiply JOB TO FRAMES: a job of so many frames, each of JOB's again and again under other names.
multiply() {
    # shellcheck disable=SC2317 # called through check
    python3 - "$@" <<'EOF'
import glob, os, shutil, sys
job, to, most = sys.argv[1], sys.argv[2], int(sys.argv[3])
shutil.copytree(job, to, copy_function=os.link, ignore=shutil.ignore_patterns("*.tsv", "*.html", "*.json"))
for path in glob.glob(job + "/**/*.tsv", recursive=True):
    shutil.copy(path, to + path[len(job):])
head, *rows = open(job + "/work/frames.tsv").read().splitlines()
groups = {path: open(path).readlines() for path in glob.glob(job + "/work/group/*/before.tsv")}
with open(to + "/work/frames.tsv", "a") as frames:
    for k in range(len(rows), most):
        row = rows[k % len(rows)].split("\t")
        row[head.split("\t").index("shows_card")] = "no"
        id, name, *rest = row
        new, new_id = f"{k}-{name}", f"{k}-{id}"
        frames.write("\t".join([new_id, new, *rest]) + "\n")
        os.link(f"{job}/frames/{name}", f"{to}/frames/{new}")
        for which in "before", "after":
            if os.path.exists(f"{job}/report/pictures/{id}.{which}.jpg"):
                os.link(f"{job}/report/pictures/{id}.{which}.jpg", f"{to}/report/pictures/{new_id}.{which}.jpg")
        os.mkdir(f"{to}/work/frame/{new_id}")
        for path in glob.glob(f"{glob.escape(job + '/work/frame/' + id)}/*"):
            copy = f"{to}/work/frame/{new_id}/{os.path.basename(path)}"
            if not path.endswith(".tsv"):
                shutil.copy(path, copy)
                continue
            lines = open(path).readlines()
            with open(copy, "w") as file:
                file.writelines(new + line[len(name):] if line.startswith(name + "\t") else line for line in lines)
        for path, lines in groups.items():
            with open(to + path[len(job):], "a") as file:
                file.writelines(new + line[len(name):] for line in lines if line.startswith(name + "\t"))
EOF
}

shoot job birk imani
grep -v imani job/patches.tsv >rows && cp rows job/patches.tsv # faces are found
"$SCENE" -s imani --camera south --strength 4 --seed 2 -w 240 -h 320 -n south-imani-2.tif | carn-encode job/frames/wrong.tif
mv job/frames/wrong.tif job/frames/south-imani-2.tif
head -c 3000 job/frames/north-birk-3.tif >short && mv short job/frames/north-birk-3.tif
# Names that would end an element or an attribute.
evil='<img src=x onerror=alert(1)>"&'\'
awk -F '\t' -v OFS='\t' -v evil="$evil" '$2 == "imani" { $2 = evil } 1' job/job.tsv >rows && cp rows job/job.tsv
"$SCENE" -s celia --with daro --camera north -w 450 -h 360 -n two.tif | carn-encode job/frames/two.tif
printf 'two.tif\tcelia, daro\tnorth\tnorth-birk-1.tif\t-\n' >>job/job.tsv
status 2 "a job with a frame that is off and one that fails" carn-job job
cd job/report || exit 1
is "names are escaped everywhere" "$(cat index.html contact.html | grep -c '<img src=x')$(grep -c '&lt;img src=x onerror=alert(1)&gt;&quot;&amp;&#39;' index.html | awk '{ print ($1 > 3) }')" 01
is "the pages allow nothing from outside" "$(grep -hoE "default-src 'none'.*sha256-[A-Za-z0-9+/=]{44}'" index.html contact.html | wc -l) $(grep -hoE '(src|href)="[a-z]*:?//' index.html contact.html | wc -l)" "2 0"
is "each plot has a title and a text alternative" "$(grep -c '<svg viewBox="0 0 560' index.html) $(grep -c '<title id=' index.html)" "8 8"
is "worst first" "$(grep -oE '<tr id="f-[^"]*"[^>]*data-verdict="[a-z]*"' index.html | head -n 2 | sed 's/.*verdict=//' | tr -d '\n')" '"failed""off"'
is "a link for each to look at" "$(sed -n '/id="needs"/,/<\/section>/p' index.html | grep -c 'href="#f-.*\(north-birk-3\|south-imani-2\).tif">')" 3
check "summary.json has the rows of summary.tsv" python3 -c '
import csv, json
rows = list(csv.DictReader(open("summary.tsv"), delimiter="\t", quoting=csv.QUOTE_NONE))
said = json.load(open("summary.json"))
assert said["form"] == 1 and said["status"] == int(rows[-1]["about"]) == 2, said["status"]
assert len(said["rows"]) == len(rows) - 1
for row, one in zip(rows, said["rows"]):
    for key in ("part", "about", "what", "note"):
        assert row[key] == one[key], (row, one)
    for key in ("frames", "before", "after"):
        assert one[key] is None if row[key] == "-" else float(row[key]) == one[key], (row, one)
assert said["failed"] == 1 and said["off"] == 1 and said["frames"] == 13'
people() { sed -n '/<h2 id="people"/,/<h2 id="plots"/p' index.html; }
is "two people of a frame have a strip each, with their own face" "$(people | grep -o 'two.tif.after.face-[0-9].jpg' | tr '\n' ' ')" "two.tif.after.face-1.jpg two.tif.after.face-2.jpg "
holds "its figures are of both, before and after" 'c["frame"] != "two.tif" || (abs(c["before_L"] - c["after_L"]) < 0.5 && abs(c["shot_L"] - c["after_L"]) < 1)' frames.tsv
carn-facts pictures/*-two.tif.*.face-*.jpg >facts
holds "faces are pictures of their own, tagged sRGB" 'c["profile"] ~ /sRGB/ && abs(c["height"] / c["width"] - 1.25) < 0.02' facts
cd ../.. || exit 1
cp -r job/report before
check "written again" carn-job-report job
diff -r before job/report >/dev/null && pass "it has the same bytes" || fail "it has the same bytes"

check "300 frames are laid out" multiply job many 300
status 0 "a job of 300 frames" carn-job-report many
is "has 300 rows" "$(grep -c '<tr id="f-' many/report/index.html)" 300
size=$(wc -c <many/report/index.html)
[ "$size" -lt 2000000 ] && pass "in under 2 MB ($size bytes)" || fail "in under 2 MB" "$size"

# ---- in a browser ----
npm=$TOP/build/npm
browser=$(command -v chromium || true)
if [ -z "$browser" ] || ! have node || [ ! -d "$npm/node_modules/axe-core" ] || [ ! -d "$npm/node_modules/playwright-core" ]; then
    skip "the pages in a browser" "no chromium, node or packages of npm: scripts/setup check"
    finish
fi
check "24 frames are laid out" multiply job set 24
status 0 "a job of 24 frames" carn-job-report set
for job in set many; do
    shots=
    widths=400,1280,2000 all=64
    [ $job = set ] || widths=1280 all=32 # axe-core takes its time over 300 frames
    [ -z "${SHOTS:-}" ] || { shots=$SHOTS/$job && mkdir -p "$shots"; }
    node "$TOP/tests/report-pages.cjs" "$npm" "$browser" "$job/report" "$widths" "$shots" >said 2>&1
    while IFS= read -r line; do
        case $line in
        ok\ *) pass "$job: ${line#ok }" ;;
        *) fail "$job: ${line#not ok }" ;;
        esac
    done <said
    is "$job: all was looked at" "$(grep -c '^\(not \)\?ok ' said)" "$all"
done
# What a person dragged is what carn-sample takes.
{ head -n 1 set/patches.tsv && cat set/report/dragged; } >row
frame=$(cut -f 1 set/report/dragged)
carn-decode "set/frames/$frame" 2>/dev/null | carn-sample -p row >readings 2>/dev/null
is "a dragged row is read as a face" "$(tail -n +2 readings | cut -f 5 | tr '\n' ' ')" "light middle shade "
finish
