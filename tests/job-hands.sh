#!/usr/bin/env bash
# What a job may write, and what it does when its folder, a file or a setting is wrong: originals and
# delivered pictures stay, the run says what is wrong and ends with 2.
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"
# run STATUS NAME COMMAND...: as status, but one that hangs is told from one that fails.
run() { status "$1" "$2" timeout 300 "${@:3}"; }

shoot plain emre
for frame in north-emre-3 south-emre-2 south-emre-3; do rm plain/frames/$frame.tif && sed -i "/^$frame/d" plain/job.tsv plain/patches.tsv; done
run 0 "a job of three frames" carn-job plain
(cd plain && find out -type f -exec sha256sum {} +) | sort >delivered
kept() { (cd "$1" && find out -type f -exec sha256sum {} +) | sort | cmp -s - delivered; }

# ---- the job's own folder, and nothing else ----
mkdir originals && cp plain/frames/north-emre-2.tif originals/a.tif
sha256sum originals/a.tif >sum
cp -a plain bad
printf '../originals/a.tif\temre\tnorth\tnorth-emre-1.tif\t-\n' >>bad/job.tsv
run 2 "a frame with a folder in its name" carn-job bad
says "is refused with its line" 'job.tsv: line 5, .*plain name'
check "and its file is there" sha256sum -c --quiet sum
cp plain/job.tsv bad/job.tsv
sed -i 's/\tnorth-emre-1.tif\t-$/\t..\/..\/originals\/a.tif\t-/' bad/job.tsv
run 2 "so is a card" carn-job bad
for folder in out work report; do
    rm -rf bad && cp -a plain bad && rm -rf "bad/$folder" && ln -s ../originals "bad/$folder"
    run 2 "$folder/ as a link to the originals" carn-job bad
    says "is refused" "$folder: is a link"
done
check "and they are as they were" sha256sum -c --quiet sum
is "with nothing beside them" "$(ls originals)" a.tif
rm -rf bad && cp -a plain bad
{ cat plain/job.tsv && tail -n +2 plain/job.tsv && tail -n +2 plain/job.tsv; } >bad/job.tsv
run 0 "each frame in three rows" carn-job bad
is "the first counts, of each other it is said" "$(cat "$T/out" "$T/err" bad/report/summary.tsv | grep -o 'line [0-9]*: [a-z0-9.-]* stands twice' | sort -u | wc -l)" 6
kept bad && pass "and the pictures are the same" || fail "and the pictures are the same"
rm -rf bad && cp -a plain bad && rm bad/out/south-emre-1.tif && mkdir bad/out/south-emre-1.tif
run 2 "a folder where a picture should go" carn-job bad
is "fails that frame alone" "$(awk -F '\t' 'NR > 1 && $9 == "delivered"' bad/report/frames.tsv | wc -l)" 2

# ---- originals that are not there ----
rm -rf bad && cp -a plain bad && mv bad/frames away && mkdir bad/frames
run 2 "a run without the originals' disk" carn-job bad
kept bad && pass "keeps all that was delivered" || fail "keeps all that was delivered" "$(ls bad/out)"
is "and lists it as not renewed" "$(grep -c '^person.*	not renewed	' bad/report/summary.tsv)" 3
rmdir bad/frames && mv away bad/frames
run 0 "with the disk back" carn-job bad
kept bad && pass "all is as it was" || fail "all is as it was"

# ---- what is no plain file ----
rm -rf bad && cp -a plain bad
mkfifo bad/frames/fifo.tif
ln -s loop.tif bad/frames/loop.tif
ln -s /dev/zero bad/frames/device.tif
ln -s nowhere.tif bad/frames/broken.tif
for frame in fifo loop device broken; do printf '%s.tif\temre\tnorth\tnorth-emre-1.tif\t-\n' $frame >>bad/job.tsv; done
run 2 "a FIFO, a device and links to themselves or nothing" carn-job bad
is "are each told" "$(grep -c '^person	\(fifo\|loop\|device\|broken\).tif	failed	' bad/report/summary.tsv)" 4
kept bad && pass "and the others delivered" || fail "and the others delivered"
mkdir source && mkfifo source/fifo.tif && ln -s loop.tif source/loop.tif && cp originals/a.tif source/a.tif && echo >source/b.webp && echo >$'source/notes\033.txt'
run 0 "carn-job-new of a folder with them" carn-job-new fresh source
is "names what is none that is read" "$(grep 'left out' out)" "left out, by their suffix no pictures that are read: b.webp, notes?.txt (2 in all)"
is "takes the picture" "$(tail -n +2 fresh/job.tsv | cut -f 1)" a.tif
run 2 "and named" carn-job-new -c other source/fifo.tif source/a.tif
says "says so" 'fifo.tif'

# ---- two frames, two files ----
rm -rf bad && cp -a plain bad && rm -r bad/out bad/work
(cd bad/frames && cp north-emre-2.tif a.tif && carn-decode a.tif | carn-encode a.png && carn-decode a.tif | carn-encode a.png.jpg && rm north-emre-2.tif south-emre-1.tif) 2>/dev/null
sed -i -e '/^north-emre-2/d' -e '/^south/d' bad/job.tsv
for frame in a.png.jpg a.tif a.png; do printf '%s\temre\tnorth\tnorth-emre-1.tif\t-\n' $frame >>bad/job.tsv && grep '^north-emre-2' plain/patches.tsv | sed "s/^[^\t]*/$frame/" >>bad/patches.tsv; done
sed -i '1i FORMAT = jpg' bad/Makefile
carn-job bad >out 2>err
is "a.png.jpg, a.tif and a.png as JPEG" "$(cd bad/out && echo * '')" "a.jpg a.png-2.jpg a.png.jpg north-emre-1.jpg "
sha256sum bad/out/a.jpg >approved
sed -i '/^a\.tif/s/-$/yes/' bad/job.tsv
{ head -n 1 bad/job.tsv && tail -n +2 bad/job.tsv | sort; } >x && mv x bad/job.tsv
is "a.png comes before a.tif now, which is approved" "$(cut -f 1,5 bad/job.tsv | grep -n '^a\.' | tr '\t\n' '  ')" "2:a.png - 3:a.png.jpg - 4:a.tif yes "
carn-job bad >out 2>err
check "the approved picture is not written over" sha256sum -c --quiet approved
is "and no file has another name" "$(cd bad/out && echo * '')" "a.jpg a.png-2.jpg a.png.jpg north-emre-1.jpg "

# ---- settings and tables that cannot be ----
rm -rf bad && cp -a plain bad
for setting in 'AIM = comon' 'SEPARATION = .' 'LOOK = frames' 'PROFILE = frames' 'FORMAT = tiff'; do
    { echo "$setting" && cat plain/Makefile; } >bad/Makefile
    touch bad/frames/*
    run 2 "$setting" carn-job bad
    says "is refused before any frame is read" "^carn-job: Makefile: ${setting%% =*} = "
    is "and nothing is made" "$(wc -c <out)" 0
done
cp plain/Makefile bad/Makefile
echo 'north-emre-2.tif cheek middle 38% 52% 5% 4%' >>bad/patches.tsv
run 2 "a row typed with spaces" carn-job bad
says "is named" 'patches.tsv: line [0-9]+, .*spaces'
rm -rf bad && cp -a plain bad && rm -r bad/work && mkdir bad/work && touch bad/work/tmp
run 2 "a file where a folder of work should be" carn-job bad
TMPDIR=$T/nowhere run 0 "TMPDIR that is not there" carn-job plain

# ---- names and texts ----
rm -rf bad && cp -a plain bad
name=$' a\033[2J\tb\001 .tif'
cp plain/frames/north-emre-2.tif "bad/frames/$name"
printf '%s\temre\tnorth\tnorth-emre-1.tif\t-\n' ' a%1B[2J%09b%01 .tif' >>bad/job.tsv
grep '^north-emre-2' plain/patches.tsv | sed 's/^[^\t]*/ a%1B[2J%09b%01 .tif/' >>bad/patches.tsv
run 0 "a name of spaces, a tab, control bytes and an escape" carn-job bad
is "survives whole" "$(find bad/out -name "$name" | wc -l)" 1
is "and steers no terminal" "$(cat out err bad/report/summary.txt | grep -c $'[\001-\010\013-\037\177]')" 0
is "nor shows a path of work" "$(cat out err | grep -c 'work/')" 0

# ---- before and after a run ----
run 0 "nothing to do" carn-job -n plain
is "says so" "$(tail -n 1 out | cut -d ' ' -f 1)" 0
touch plain/frames/north-emre-2.tif
run 0 "an original touched" carn-job -n plain
grep -q '^north-emre-2.tif: original changed' out && pass "is told with its reason" || fail "is told with its reason" "$(cat out)"
sed '1i STRENGTH = 0.5' plain/Makefile >m && cp m plain/Makefile
run 0 "a setting changed" carn-job -n plain
is "is told for all" "$(grep -c STRENGTH out)" 3
kept plain && pass "and nothing was made" || fail "and nothing was made"
sed -i 1d plain/Makefile
sed -i '/^south/d' plain/job.tsv
echo mine >plain/out/mine.txt
carn-job plain >out 2>err
is "a delivered file that no row asks for is listed, and one of somebody else's" "$(grep -c '^person	out/	not asked for	' plain/report/summary.tsv)" 2
run 0 "tidy" carn-job plain tidy
is "removes what is the job's own" "$(cd plain/out && echo * '')" "mine.txt north-emre-1.tif north-emre-2.tif "

# ---- the suite in a folder of any name but a colon ----
odd="$T/a \$suite's #1"
mkdir -p "$odd/build" && cp -a "$BIN" "$CARN_BUILD/share" "$odd/build/"
rm -rf bad && cp -a plain bad && rm -r bad/work bad/out bad/report
status 0 "the suite in a folder with a space, a dollar, a quote and a number sign" env CARN_BUILD="$odd/build" PATH="$odd/build/bin:/usr/bin:/bin" carn-job bad
status 0 "and called by make" env CARN_BUILD="$odd/build" PATH="$odd/build/bin:/usr/bin:/bin" make -C bad
finish
