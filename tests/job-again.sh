#!/usr/bin/env bash
# A job that was edited and run again delivers, tells and keeps what a clean copy of it does, byte for byte; a dry run
# foretells what a run makes and makes nothing.
. "$(dirname "$0")/lib.sh"
# shellcheck source=tests/job-lib.sh
. "$TOP/tests/job-lib.sh"

# ---- a job of light, medium and deep skin on two cameras: small, as the pictures are not what is tested ----
mkdir -p edited/job/frames
# shot FRAME SCENE-OPTION...
shot() { "$SCENE" -w 160 -h 200 "${@:2}" 2>/dev/null | carn-encode "edited/job/frames/$1" 2>/dev/null; }
shot 'north card.tif' -s aino --camera north --card --seed 1
shot south-card.png -s kesi --camera south --card --seed 2
shot 'n-goro 1.jpg' -s goro --camera north --seed 3
shot s-goro.tif -s goro --camera south --seed 4
shot n-kesi.tif -s kesi --camera north --seed 5
shot s-aïno.png -s aino --camera south --seed 6
shot nobody.tif -s hedda --camera north --seed 7
"$SCENE" -w 320 -h 240 -s aino --with goro --camera north --seed 8 | carn-encode edited/job/frames/group.tif
head -c 3000 edited/job/frames/n-kesi.tif >edited/job/frames/broken.tif
mv edited/job/frames/s-goro.tif away.tif && ln -s "$T/away.tif" edited/job/frames/s-goro.tif
cat >edited/job/job.tsv <<'TABLE'
frame	subject	camera	card	approved
north card.tif	aino	north	north card.tif	-
south-card.png	kesi	south	south-card.png	-
n-goro 1.jpg	goro	north	north card.tif	-
s-goro.tif	goro	south	south-card.png	-
n-kesi.tif	kesi	north	north card.tif	-
s-aïno.png	aino	south	south-card	-
group.tif	aino, goro	north	north card.tif	-
nobody.tif	-	north	-	-
TABLE
printf 'frame\tpatch\ttone\tx\ty\tw\th\nnorth card*\tcard\tcard\t39%%\t80%%\t21%%\t9%%\nsouth-card\tcard\tcard\t39%%\t80%%\t21%%\t9%%\nn-kesi.tif\tface\tall\t30%%\t15%%\t40%%\t45%%\n' >edited/job/patches.tsv
printf 'include $(or $(CARN_RULES),$(shell carn-job --rules))\n' >edited/job/Makefile
printf 'kind\tfrom\tto\tasked\tnote\nknot\tB 0.5\tB 0.52\t-\twarm\n' >edited/job/look.curve


# names LINES: the frames that lines of a dry run, or of a run, begin with.
foretold() { sed -n '/^note: /d; s/^\([^:]*\): .*/\1/p' | sort; }
made() { sed -n 's/^\[[0-9]*\/[0-9]*\] \([^:]*\)\(: .*\|$\)/\1/p' "$1" | sort; }
# kept JOB: its files but for those that a run of any kind writes. A job without work/ has folders made for it.
kept() { find "$1" -type f ! -path "$1/work/settings" ! -path "$1/work/rules.mk" ! -path "$1/work/.lock" -printf '%p %s %T@ %i\n' | sort; }

# again NAME [TARGET]: the edited job is run, and a clean copy of it, and what both deliver, tell and keep is compared.
# The clean copy has the numbers of the ids, which come in the order that names came in. What a step leaves and none
# reads may be there from before.
again() {
    local name=$1 target=${2:-default} a=0 b=0 wrong=''
    kept edited/job >before
    carn-job -n edited/job >dry 2>dry.err
    kept edited/job | cmp -s before - || wrong="the dry run made something; "
    rm -rf clean && mkdir -p clean/job/work
    cp -a edited/job/{frames,job.tsv,patches.tsv,Makefile,look.curve} clean/job/
    [ ! -e edited/job/aims.tsv ] || cp -a edited/job/aims.tsv clean/job/
    (cd edited && exec carn-job job "$target" >run 2>run.err) || a=$?
    cp edited/job/work/ids.tsv clean/job/work/
    (cd clean && exec carn-job job "$target" >run 2>run.err) || b=$?
    [ $a -eq $b ] || wrong="${wrong}status $a, clean $b; "
    [ "$target" = audit ] || [ -z "$(made edited/run | comm -13 <(foretold <dry) -)" ] || wrong="${wrong}not foretold: $(made edited/run | comm -13 <(foretold <dry) - | tr '\n' ' '); "
    (cd clean/job && find out report work -type f ! -name '.*' ! -name settings ! -name rules.mk | sort) >files
    (cd clean/job && xargs -d '\n' cksum -- <"$T/files") >want
    (cd edited/job && xargs -d '\n' cksum -- <"$T/files") >got 2>/dev/null
    diff want got | sed -n 's/^[<>] [0-9]* [0-9]* //p' | sort -u >differ
    if [ "$target" = audit ]; then # which leaves alone what a delivery left
        grep '^report/[^/]*$' differ >tables
        mv tables differ
    else
        (cd edited/job && find out report -type f | sort) | comm -23 - files >left
    fi
    [ ! -s differ ] || wrong="${wrong}other bytes: $(head -n 5 differ | tr '\n' ' '); "
    [ ! -s left ] || wrong="${wrong}left over: $(head -n 5 left | tr '\n' ' '); "
    [ -z "$wrong" ] && pass "$name" || fail "$name" "$wrong"
}
set_to() { sed -i "/^${1%% *} = /d" edited/job/Makefile && sed -i "1i $1" edited/job/Makefile; }
unset_of() { sed -i "/^$1 = /d" edited/job/Makefile; }
row() { sed -i "s/^\($1\t[^\t]*\t[^\t]*\)\t[^\t]*/\1\t$2/" edited/job/job.tsv; }

carn-job edited/job >/dev/null 2>&1
carn-job -n edited/job >dry
is "then there is nothing to do" "$(grep -v ^note: dry)" "0 of 8 frames would be made anew or looked at again"
again "measured alone, after a delivery" audit

still=''
for setting in 'AIM = skin' 'BOUND = none' 'STRENGTH = 0.7' 'CURVE = frame' 'EQUALISE = yes' 'BLACK_POINT = no' 'FORMAT = tif' 'DEPTH = 8' \
    'COMPRESSION = lzw' 'QUALITY = 80' 'PROFILE = srgb' 'LOOK = look.curve' 'SKIN = no' 'CONFIDENCE = 0.4' 'FOLLOW = south'; do
    set_to "$setting"
    carn-job -n edited/job >dry
    [ "$(tail -n 1 dry | cut -d ' ' -f 1)" != 0 ] || still="$still${setting%% *} "
    unset_of "${setting%% *}"
done
is "each setting is a reason to make pictures anew" "$still" ""

# A face typed otherwise is told otherwise. Pictures of the report and a table of work/ are taken away.
sed -i 's/\t30%\t15%/\t30.0%\t15%/' edited/job/patches.tsv
rm edited/job/report/after.tsv edited/job/report/pictures/*goro_1.jpg.before.jpg edited/job/work/frame/*s-goro.tif/readings.tsv edited/job/work/group/*kesi/before.tsv
again "a face typed otherwise, and files of report/ and work/ taken away"
rm edited/job/report/provenance.tsv
set_to "BOUND = none"
again "no bound, and a table of the report taken away"

# One card fewer moves the level of all. In the same mtime: an original of another size.
set_to "EQUALISE = yes"
carn-job edited/job >/dev/null 2>&1
for frame in south-card.png s-goro.tif 's-aïno.png'; do row "$frame" -; done
again "one card fewer"
unset_of EQUALISE
again "each card as it is"

# What a picture without a face, a grey one and a row that is gone had of their own is gone too.
set_to "LOOK = look.curve"
set_to "STRENGTH = 0.5"
again "half the way, and a look"
"$SCENE" --chart -w 160 -h 200 | carn-encode -b 8 -f "edited/job/frames/n-goro 1.jpg" 2>/dev/null
{ printf 'P5\n160 200\n255\n' && head -c 32000 /dev/zero | tr '\0' x; } | carn-decode - 2>/dev/null | carn-encode -f edited/job/frames/s-aïno.png 2>/dev/null
sed -i '/^nobody/d' edited/job/job.tsv
carn-job edited/job tidy >/dev/null
again "pictures of another kind, and fewer"
is "of which there are four kinds" "$(tsv '{ printf "%s ", $h["grounds"] }' edited/job/report/frames.tsv)" "found found none found given grey found "

# A column that nothing reads stands in the page's rows for job.tsv.
sed -i '1s/$/\tremark/; 2s/$/\tmine/; /^n-goro/d' edited/job/job.tsv
carn-job edited/job tidy >/dev/null
set_to "CONFIDENCE = 1"
again "a remark of a person, and nobody sure"

# The house's own aims judge a picture without a curve, too.
printf 'aim\ttone\tquantity\tvalue\ttolerance\nhouse\t-\tmagenta/cyan\t2\t5\nhouse\t-\tyellow/magenta\t1.25\t5\n' >edited/job/aims.tsv
set_to "AIM = house"
carn-job edited/job >/dev/null 2>&1
sed -i 's/\t2\t/\t1.6\t/' edited/job/aims.tsv
again "another aim"
unset_of AIM && unset_of CONFIDENCE && unset_of LOOK
set_to "FOLLOW = north"
carn-job edited/job tidy >/dev/null 2>&1
again "planned and not run"

# What failed and lies in out/ no more has no provenance.
head -c 3000 edited/job/frames/n-kesi.tif >x && mv x edited/job/frames/n-kesi.tif && rm edited/job/out/n-kesi.tif
status 2 "one that cannot be read, and its picture taken away" carn-job edited/job
is "has no provenance" "$(cut -f 1 edited/job/report/provenance.tsv | grep -c n-kesi)" 0
finish
