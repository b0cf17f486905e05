#!/usr/bin/env bash
# One loop over every program at its edges: full disk, closed and empty streams, cut and random
# input, readers that go away, options that are unknown or lack their argument, the same bytes twice.
. "$(dirname "$0")/lib.sh"

"$SCENE" -w 128 -h 160 --card -n one.tif >one.pam
"$SCENE" -w 128 -h 160 --card -n one.tif --patches >p.tsv
sed 's/^one.tif/*/' p.tsv >any.tsv
carn-encode -b 16 one.tif <one.pam
"$SCENE" -w 96 -h 96 -n two.tif -s lamin >two.pam
cat one.pam two.pam >frames
"$SCENE" --chart | head -c 4000 | tail -c 2000 >noise
printf 'frame\tpatch\tx\ty\tw\th\n*\twhole\t0\t0\t100%%\t100%%\n' >whole.tsv
printf 'frame\tpatch\ttone\tx\ty\tw\th\n*\tface-1\tall\t30%%\t20%%\t40%%\t45%%\n' >face.tsv
carn-sample -q -p any.tsv <one.pam >readings
carn-curve-neutral readings >neutral.curve 2>/dev/null
carn-curve-solve readings >skin.curve

# Every program with good arguments, what it reads, and what it does with its input. Those that work
# on a job's folder have job-hands.sh; carn-correct stands further down.
programs=(
    "frames|carn-blur-average -s 2"
    "frames|carn-blur-average -w 40"
    "frames|carn-crop -p face.tsv"
    "frames|carn-curve-apply -c neutral.curve -c skin.curve"
    "frames|carn-sample -q -p any.tsv"
    "frames|carn-card-find"
    "frames|carn-patch-find"
    "frames|carn-skin-weight"
    "frames|carn-weight-show"
    "frames|carn-skin-weight -r readings"
    "frames|carn-encode -t png -"
    "readings|carn-score"
    "readings|carn-curve-neutral"
    "readings|carn-curve-solve"
    "readings|carn-aim-meet"
    "none|carn-decode one.tif"
    "none|carn-facts one.tif"
    "readings|carn-aim-take house"
    "none|carn-differ readings readings"
    "none|carn-compare readings readings"
    "frames|carn-sheet -p face.tsv -r readings"
    "frames|carn-to-profile -o bt2020"
    "frames|carn-surface -q -p whole.tsv"
)
[ "$(printf '%s\n' "${programs[@]}" | sed 's/^[^|]*|//' | cut -d ' ' -f 1 | sort -u)" = "$(cd "$BIN" && printf '%s\n' carn-* | grep -vE '^carn-(job|step|explain|correct)' | sort)" ] &&
    pass "the loop has every program" || fail "the loop has every program" "$(cd "$BIN" && ls)"

version=$(carn-score --version | cut -d ' ' -f 2)
told() { # WANT NAME: status and exactly one line that is no note
    complaints err
    if [ "$got" -eq "$1" ] && [ "$said" -eq $(($1 == 2)) ]; then pass "$2"; else fail "$2" "status $got" "$(head -c 600 err)"; fi
}

for entry in "${programs[@]}"; do
    read -ra command <<<"${entry#*|}"
    name="${command[*]}"
    from=${entry%%|*}
    [ "${command[0]}" = carn-encode ] && from=one.pam
    [ "$from" = none ] && from=/dev/null
    good=0
    "${command[@]}" <"$from" >first 2>err || good=$?
    if [ $good -lt 2 ] && [ -s first ]; then pass "$name works"; else fail "$name works" "status $good" "$(cat err)"; fi
    (export LC_ALL=C.UTF-8 TZ=Asia/Tokyo LANG=de_DE.UTF-8; "${command[@]}" <"$from" >second 2>err)
    same "$name: the same bytes again, in another locale and time zone" first second

    got=0; "${command[@]}" <"$from" >/dev/full 2>err || got=$?
    told 2 "$name > /dev/full"
    got=0; "${command[@]}" <"$from" >&- 2>err || got=$?
    told 2 "$name with standard output closed"
    if [ "$from" != /dev/null ]; then
        got=0; "${command[@]}" </dev/null >out 2>err || got=$?
        told 2 "$name with empty input"
        [ ! -s out ] && pass "$name with empty input prints nothing" || fail "$name with empty input prints nothing"
        got=0; "${command[@]}" <&- >out 2>err || got=$?
        told 2 "$name with standard input closed"
        got=0; head -c 5000 /dev/zero | "${command[@]}" >out 2>err || got=$?
        told 2 "$name with zeros"
        got=0; "${command[@]}" <noise >out 2>err || got=$?
        told 2 "$name with noise"
        got=0; "${command[@]}" <. >out 2>err || got=$?
        told 2 "$name reading a folder"
    fi
    refused "$name --no-such-option" "${command[0]}" --no-such-option
    refused "$name -Z" "${command[0]}" -Z
    check "$name --help" "${command[0]}" --help
    check "$name --version" "${command[0]}" --version
    [ "$(<out)" = "${command[0]} $version" ] && pass "$name says its version" || fail "$name says its version"
done

# Frames cut at every byte of a short header, here and there in a long one, and in the samples.
{ printf 'P7\n#@ name a%%20b\n#@ orientation 6\n#@+ \n' && carn-decode --bare one.tif | tail -c +4; } >short.pam
header=$(grep -abn -m 1 ENDHDR one.pam | cut -d : -f 2)
short=$(grep -abn -m 1 ENDHDR short.pam | cut -d : -f 2)
check "the short frame is sound" carn-curve-apply -c skin.curve <short.pam
mkdir cut
for size in $(seq 1 $((short + 8))); do head -c "$size" short.pam >"cut/short-$size"; done
for size in $(seq 1 47 $((header + 6))) $((header + 7)) $((header + 8)) 20000 50000 $(($(wc -c <one.pam) - 1)); do head -c "$size" one.pam >"cut/long-$size"; done
all=(cut/*)
cuts=("${all[@]}")
for entry in "${programs[@]}"; do
    [ "${entry%%|*}" = frames ] || continue
    read -ra command <<<"${entry#*|}"
    bad=()
    for file in "${cuts[@]}"; do
        got=0; "${command[@]}" <"$file" >out 2>err || got=$?
        complaints err
        [ $got -eq 2 ] && [ $said -eq 1 ] || bad+=("$file: $got $(cat err)")
    done
    if [ ${#bad[@]} -eq 0 ]; then pass "${command[*]}: a frame cut anywhere is status 2 and one line"; else fail "${command[*]}: a frame cut anywhere" "${bad[@]}"; fi
    # All have one reader of frames: the first met each cut, the others those of every fifth byte.
    [ ${#cuts[@]} -lt ${#all[@]} ] || cuts=(cut/short-*[05] cut/long*)
done

# A reader that goes away ends a filter by the signal, without a word.
for _ in $(seq 20); do cat frames; done >many
for command in "carn-blur-average -s 2" "carn-curve-apply -c skin.curve" "carn-to-profile -o srgb" "carn-decode one.tif one.tif one.tif one.tif"; do
    # shellcheck disable=SC2086 # for the inner shell; a command and its options
    got=$(bash -c '"$@" <many 2>err | head -c 1 >/dev/null; echo "${PIPESTATUS[0]}"' x $command)
    if [ "$got" = 141 ] && ! grep -qv ': note: ' err; then pass "${command%% *}: its reader goes away"; else fail "${command%% *}: its reader goes away" "status $got" "$(cat err)"; fi
done

# Options without their argument, contradictory ones, operands too many.
refused "sample without patches" carn-sample
refused "sample -p without a file" carn-sample -p
refused "sample with an operand" carn-sample -p p.tsv frames
refused "sample with an unknown mean" carn-sample -m mode -p p.tsv
refused "apply without a curve" carn-curve-apply
refused "solve with an unknown bound" carn-curve-solve --bound some readings
refused "solve with two tables" carn-curve-solve readings readings
refused "score with two tables" carn-score readings readings
refused "neutral with two tables" carn-curve-neutral readings readings
refused "differ with one table" carn-differ readings
refused "differ with a tolerance under 0" carn-differ -t -1 readings readings
refused "differ of tables without a key in common" carn-differ readings <(sed 's/forehead/brow/; s/jaw/chin/; /temple/d; /cheek/d; /card/d; /backdrop/d' readings)
refused "to-profile without a profile" carn-to-profile
refused "surface without patches" carn-surface
refused "compare with no table" carn-compare
refused "aim-take without a name" carn-aim-take
refused "neutral of skin alone" carn-curve-neutral <(grep -v $'\tcard\t' readings)
refused "solve of a card alone" carn-curve-solve <(grep -E $'^frame|\tcard\t' readings)
refused "correct with one name" carn-correct -p p.tsv one.tif
refused "correct with an unknown option" carn-correct --fast one.tif out.tif
refused "audit without pictures" carn-audit -p p.tsv

# Tables as spreadsheets write them, and as they should not be.
sed 's/$/\r/; 1s/^/\xef\xbb\xbf/' readings >dos
carn-score readings >a.tsv 2>/dev/null
carn-score dos >b.tsv 2>/dev/null
same "a byte order mark and CRLF change nothing" a.tsv b.tsv
awk -F '\t' -v OFS='\t' '{ for (i = NF; i > 0; i--) printf "%s%s", $i, (i > 1 ? OFS : ORS) }' readings >backwards
carn-score backwards >c.tsv 2>err
judged() { tsv '{ print $h["verdict"], $h["ciede2000"], $h["magenta_by_cyan"], $h["words"] }' "$1"; }
same "columns are found by name" <(judged c.tsv) <(judged a.tsv)
is "a row for each" "$(wc -l <c.tsv)" "$(wc -l <readings)"
cut -f 1-12 readings >missing
refused "a missing column" carn-score missing
says "is named" "missing: no column 'L'"
for by in ',' ';' ' '; do
    tr '\t' "$by" <readings >other
    refused "columns separated by '$by'" carn-score other
    says "is named" "other: no column '[a-zA-Z]*' in the header: it is one cell with (commas|semicolons|spaces), and columns are separated by tabs"
done
for form in UTF-16 UTF-16LE UTF-16BE; do
    iconv -f UTF-8 -t $form readings >other
    refused "a table in $form" carn-score other
    says "is named" 'other: is UTF-16 text; a table is UTF-8 \(iconv -f UTF-16 -t UTF-8 makes one\)'
done
# Lines that end in CR alone, as some spreadsheets write them, would all be the header: a curve of no move.
for table in "readings|carn-score" "neutral.curve|carn-curve-apply -c" "any.tsv|carn-sheet -p"; do
    tr '\n' '\r' <"${table%|*}" >old
    # shellcheck disable=SC2086 # a command and its option
    refused "${table%|*} with lines that end in CR" ${table#*|} old <frames
    says "is told so" "old: line 1 holds a carriage return; lines end in LF or CRLF, not in CR alone \(tr '.r' '.n' mends it\)"
done
paste readings readings >twice
refused "a column that stands twice" carn-score twice
says "is named with its line" "twice: line 1 has the column 'frame' twice"
awk -F '\t' -v OFS='\t' 'NR == 3 { $13 = "light" } { print }' readings >word
refused "a word for a number" carn-score word
says "with file, line, column and text" "word: line 3, column 'L': 'light' is not a number"
awk -F '\t' -v OFS='\t' 'NR == 3 { $13 = "120" } { print }' readings >high
refused "an L* over 100" carn-score high
# What no picture has is a slip, such as a point that was lost: never a figure.
for wrong in L=-1 a=2000 b=-1001 cyan=-0.1 magenta=100.1 yellow=900 black=-5 spread=-0.1 pixels=-1 clipped=101 greened=-1 hue_spread=-2; do
    awk -F '\t' -v OFS='\t' -v name="${wrong%=*}" -v value="${wrong#*=}" 'NR == 1 { for (i = 1; i <= NF; i++) h[$i] = i } NR == 3 { $h[name] = value } { print }' readings >wild
    refused "a reading with $wrong" carn-score wild
    says "is told with its line" "wild: line 3, column '${wrong%=*}': ${wrong#*=} is not .* to "
done
head -n 1 readings >header
refused "a header alone" carn-score header
refused "no such table" carn-score nowhere.tsv
head -c 3000 /dev/urandom >random
refused "random bytes for a table" carn-score random
refused "random bytes for a patch table" carn-sample -p random <frames
refused "random bytes for a curve" carn-curve-apply -c random <frames
refused "random bytes for a profile" carn-to-profile -o random <frames
refused "random bytes for a separation" carn-score -k random readings
refused "random bytes for an aim table" carn-score -f random -a x readings

# A script tells of one fault once, under its own name, and of no temporary file.
one_line() { # TEXT COMMAND...
    local want=$1 got=0
    shift
    "$@" >out 2>err || got=$?
    is "$*: one line" "$got $(grep -v ': note: ' err)" "2 $want"
}
one_line "carn-correct: nope.tif: cannot be opened: No such file or directory" carn-correct -p any.tsv nope.tif x.tif
one_line "carn-correct: nope: cannot open: No such file or directory" carn-correct -n nope -p any.tsv one.tif x.tif
one_line "carn-correct: none/x.tif: cannot be made: No such file or directory" carn-correct -p any.tsv one.tif none/x.tif
one_line "carn-correct: odd: no such file, and not one of srgb, oprgb, p3-d65, bt709, bt2020, romm" carn-correct -o odd -p any.tsv one.tif x.tif
one_line "carn-audit: nope.tif: cannot be opened: No such file or directory" carn-audit nope.tif
one_line "carn-audit: nope.tif: cannot be opened: No such file or directory" carn-audit -p any.tsv nope.tif

# Correct: nothing half, nothing over the original.
cp one.tif before.tif
refused "correct onto its own original" carn-correct -p any.tsv one.tif one.tif
same "the original is untouched" one.tif before.tif
ln one.tif link.tif
refused "nor under another name" carn-correct -p any.tsv one.tif link.tif
mkdir closed
if [ "$(id -u)" -eq 0 ] && have setpriv; then
    chmod 755 . closed
    cp "$BIN/carn-curve-apply" "$BIN/carn-encode" . # where nobody can reach them
    chown -R nobody . && chown root closed
    got=0; setpriv --reuid=nobody --clear-groups bash -c "./carn-curve-apply -c skin.curve <one.pam | ./carn-encode closed/x.tif" 2>err || got=$?
    [ $got -eq 2 ] && [ -z "$(ls -A closed)" ] && pass "a folder that may not be written" || fail "a folder that may not be written" "$got" "$(cat err)"
else
    chmod 555 closed
    if [ "$(id -u)" -ne 0 ]; then
        got=0; carn-encode closed/x.tif <one.pam 2>err || got=$?
        [ $got -eq 2 ] && pass "a folder that may not be written" || fail "a folder that may not be written"
    fi
fi
# A full disk: no picture, no half one, no temporary file; what was there before stays.
mkdir small
if mount -t tmpfs -o size=64k tmpfs small 2>/dev/null; then
    echo before >small/x.tif
    got=0; carn-encode -f small/x.tif <one.pam 2>err || got=$?
    if [ $got -eq 2 ] && [ "$(ls -A small)" = x.tif ] && [ "$(cat small/x.tif)" = before ]; then pass "a full disk"; else fail "a full disk" "$got" "$(ls -A small)" "$(cat err)"; fi
    [ "$(grep -c '^carn-encode: small/x.tif: .*cannot' err)" -eq 1 ] && pass "and it is said" || fail "and it is said" "$(cat err)"
    umount small
else
    skip "a full disk" "this user may not mount a small file system"
fi

for name in 'two words.tif' "quo'te\".tif" $'new\nline.tif' 'Ääni.tif' '-dash.tif' '100%25.tif' '$HOME.tif' '#x.tif'; do
    cp one.tif "./$name"
    got=0; carn-correct -p any.tsv -- "$name" "out-$name" >out 2>err || got=$?
    if [ $got -lt 2 ] && [ -s "out-$name" ]; then pass "a picture called $(printf '%q' "$name")"; else fail "a picture called $(printf '%q' "$name")" "$got" "$(cat err)"; fi
done
finish
