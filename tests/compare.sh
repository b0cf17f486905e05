#!/usr/bin/env bash
# carn-compare: what the scenes' generator put in comes out in words, and swaps when it is swapped.
. "$(dirname "$0")/lib.sh"

"$SCENE" --list >singers.tsv
# readings CAMERA TWIST: of four singers a depth, after the card, labelled with the camera.
readings() {
    local singer
    while IFS=$'\t' read -r singer _; do
        "$SCENE" -s "$singer" -w 240 -h 320 --camera "$1" --twist "$2" --card -n "$singer.tif" >x.pam
        [ -s "$singer.p" ] || "$SCENE" -s "$singer" -w 240 -h 320 --card -n "$singer.tif" --patches >"$singer.p"
        carn-sample -q -p "$singer.p" <x.pam | carn-curve-neutral >n.curve 2>/dev/null
        carn-curve-apply -c n.curve <x.pam 2>/dev/null | carn-sample -q -p "$singer.p" |
            awk -F '\t' -v OFS='\t' -v s="$singer" -v c="$1" 'NR > 1 { $2 = s; $3 = c } { print }'
    done < <(tail -n +2 singers.tsv) | awk 'NR == 1 || !/^frame\t/'
}
readings north north >north.tsv
readings south south >south.tsv
readings north south >north.swapped
readings south north >south.swapped
depth() { # CLASS TABLE
    awk -F '\t' -v d="$1" 'NR == FNR { depth[$1] = $2; next } FNR == 1 || depth[$2] == d' singers.tsv "$2"
}
all() { awk -F '\t' '$1 == "all" { print $9 }' "$1"; }

check "two tables" carn-compare north.tsv south.tsv
cp "$T/out" table
is "colour of three tones of every singer, the card, all" "$(awk -F '\t' 'NR > 1 { printf "%s %s %s, ", $1, $2, $3 }' table)" \
    "camera - -, colour light 24, colour middle 24, colour shade 24, exposure card 12, all * -, "
is "what the generator put in: north yellow, south magenta" "$(all table)" "north is yellower; south is more magenta, most in the lights"
carn-compare south.tsv north.tsv >back
is "the other way round the same is true" "$(all back)" "$(all table)"
is "with other signs" "$(awk -F '\t' '$2 == "middle" { print $6 }' back | tr -d -)" "$(awk -F '\t' '$2 == "middle" { print $6 }' table | tr -d -)"
carn-compare north.swapped south.swapped >swapped
is "the twists swapped, the words swap" "$(all swapped | sed 's/, most[^;]*//g')" "south is yellower; north is more magenta"
for class in light medium deep; do
    depth $class north.tsv >a
    depth $class south.tsv >b
    carn-compare a b >c
    words=$(all c)
    if [[ $words == "north is yellower"*"south is more magenta"* ]]; then pass "$class skin (4 singers): $words"; else fail "$class skin: $words"; fi
done
grep -E '^frame|^aino|^birk' north.tsv >a
grep -E '^frame|^aino|^birk' south.tsv >b
is "of the two lightest, where the generator's yellow differs most in its shade" "$(carn-compare a b | awk -F '\t' '$1 == "all" { print $9 }' | cut -d ';' -f 1)" "north is yellower, most in the shade"

{ cat north.tsv; tail -n +2 south.tsv; } >both.tsv
carn-compare both.tsv >one
same "one table with two cameras" one table
{ cat both.tsv; tail -n +2 south.tsv | awk -F '\t' -v OFS='\t' '{ $3 = "west"; print }'; } >three.tsv
refused "three cameras" carn-compare three.tsv
says "are named" "'north,south,west'"
check "two of three" carn-compare -c west,north three.tsv
is "as asked" "$(awk -F '\t' '$1 == "camera" { print $4, $5 }' "$T/out")" "west north"
refused "a camera that is not there" carn-compare -c north,east three.tsv

# By hand: one stop on the card, a person's tables without labels.
printf 'subject\tpatch\ttone\tL\ta\tb\nx\tc\tcard\t50\t0\t0\nx\tp\tlight\t60\t18\t20\nx\tq\tshade\t40\t18\t20\n' >plain-one.tsv
printf 'subject\tpatch\ttone\tL\ta\tb\nx\tc\tcard\t67.1593\t0\t0\nx\tp\tlight\t60\t18.5\t23\nx\tq\tshade\t40\t15\t20.3\n' >plain-two.tsv
carn-compare plain-one.tsv plain-two.tsv >hand
is "by hand" "$(all hand)" "plain-two is yellower in the lights; plain-one is more magenta in the shade; plain-two is exposed 1.00 stops more"
exposed() { sed "s/67.1593/$1/" plain-two.tsv >exposed.tsv && carn-compare plain-one.tsv exposed.tsv | awk -F '\t' '$1 == "exposure" { print $9 }'; }
is "0.03 stops are no word, 0.25 are" "$(exposed 50.4) $(exposed 54)" "- exposed is exposed 0.25 stops more"
is "equal tables" "$(carn-compare plain-one.tsv plain-one.tsv | tail -n 1 | cut -f 9)" "no difference worth a word"

# A surface table made by hand.
printf 'subject\tcamera\tpatch\ttone\trms_L_8\trms_L_16\tmottle_a\tmottle_b\nx\tnorth\tp\tlight\t0.6\t0.8\t0.3\t0.4\nx\tsouth\tp\tlight\t0.36\t0.48\t0.3\t0.41\n' >surface.tsv
awk -F '\t' -v OFS='\t' 'NR == 1 { print "camera", $0; next } { print "north", $0 }' plain-one.tsv >n.tsv
awk -F '\t' -v OFS='\t' 'NR == 1 { print "camera", $0; next } { print "south", $0 }' plain-one.tsv >s.tsv
is "detail in words" "$(carn-compare -s surface.tsv n.tsv s.tsv | tail -n 1 | cut -f 9)" "south keeps 40 % less fine detail"
sed 's/0.36\t0.48/0.56\t0.75/' surface.tsv >near.tsv
is "6 % less detail is no word" "$(carn-compare -s near.tsv n.tsv s.tsv | tail -n 1 | cut -f 9)" "no difference worth a word"
is "whoever comes first" "$(carn-compare -s surface.tsv s.tsv n.tsv | tail -n 1 | cut -f 9)" "south keeps 40 % less fine detail"

refused "no table" carn-compare
refused "three tables" carn-compare a b c
refused "a table of one camera" carn-compare north.tsv
refused "a table that is not there" carn-compare nowhere.tsv south.tsv
refused "an unknown option" carn-compare --fast north.tsv south.tsv
refused "a surface of other cameras" carn-compare -s surface.tsv plain-one.tsv plain-two.tsv
is "a table without cameras" "$(carn-compare plain-one.tsv 2>&1)" "carn-compare: plain-one.tsv: no row names a camera"
refused "nothing in common" carn-compare north.tsv plain-one.tsv
status 2 "a full disk" bash -c 'carn-compare north.tsv south.tsv >/dev/full'
finish
