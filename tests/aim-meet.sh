#!/usr/bin/env bash
# One person, one colour: carn-aim-meet against the formulas of docs/colour.md 7 by hand, and both
# cameras of a singer brought onto it.
. "$(dirname "$0")/lib.sh"
readings() { printf 'subject\tcamera\ttone\tL\ta\tb\tflags\n'; printf '%s\t%s\t%s\t%s\t%s\t%s\t%s\n' "$@"; }
# value AIMS NAME TONE QUANTITY [COLUMN]
value() { tsv -v n="$2" -v t="$3" -v q="$4" -v c="${5:-value}" '$h["aim"] == n && $h["tone"] == t && $h["quantity"] == q { print $h[c] }' "$1"; }
printf 'aim\tquantity\tvalue\ttolerance\nhouse\ta\t18\t2\nhouse\tb\t22\t2\nfar\thue\t120\t3\n' >house

# A camera of three frames and one of one: medians of each, then their mean.
readings ann north light 72 14 24 - ann north middle 60 18 28 - ann north middle 61 18.5 29 - ann north middle 70 30 1 - \
    ann north shade 48 18 28 - ann south light 70 18 18 - ann south middle 60 22 20 - ann south shade 46 24 18 - \
    ann south middle 60 90 90 mixed ann - card 61 1 1 - bea north middle 40 20 24 - >r
check "one aim a person" carn-aim-meet -a house -f house r
cp "$T/out" aims
is "all named, the middle first" "$(cut -f 1-3 aims | tail -n +2 | tr '\t\n' ' ;')" \
    "ann middle a;ann middle b;ann middle ciede2000;ann light a;ann light b;ann light ciede2000;ann shade a;ann shade b;ann shade ciede2000;bea middle a;bea middle b;bea middle ciede2000;"
is "the middle is on the aim" "$(value aims ann middle a) $(value aims ann middle b)" "18.0000 22.0000"
is "on within 1.5, light and shade within 2" "$(value aims ann middle ciede2000 tolerance) $(value aims ann light ciede2000 tolerance) $(value aims ann shade ciede2000 tolerance)" "1.5 2 2"
is "with its note" "$(value aims ann middle a note)" "at L* 60.5, 2 cameras, 8 readings"
# A camera's light turns as its middle does: a* + i b* times the aim over the middle.
expected=$(awk 'function turned(la, lb, ma, mb,  d, ra, rb) { d = ma * ma + mb * mb; ra = (18 * ma + 22 * mb) / d; rb = (22 * ma - 18 * mb) / d
        A = la * ra - lb * rb; B = la * rb + lb * ra; a += A / 2; b += B / 2 }
    BEGIN { turned(14, 24, 18.5, 28); turned(18, 18, 22, 20); printf "%.4f %.4f", a, b }')
is "light is each camera's, turned as its middle, averaged" "$(value aims ann light a) $(value aims ann light b)" "$expected"
carn-aim-meet --as-read r >own
is "as read: the mean of the cameras' medians" "$(value own ann middle a) $(value own ann middle b)" "20.2500 24.0000"
is "a value changed by hand is what is solved for" "$(awk -F '\t' -v OFS='\t' '$2 == "middle" && $3 == "a" { $4 = 19 } { print }' aims >hand
    awk -F '\t' '$1 == "subject" || ($1 == "ann" && $2 == "south")' r | carn-curve-solve -f hand --by-subject 2>/dev/null | cut -f 3 | sed -n 3p)" "60.0000 19.0000 22.0000"

# The meeting is where every camera can follow, at most 12 from its own middle; what was asked is kept.
readings ann north middle 60 20 20 - ann south middle 60 26 14 - >r
carn-aim-meet -a far -f house r >aims
is "the nearest bound is the limit" "$(awk -v a="$(value aims ann middle a)" -v b="$(value aims ann middle b)" 'BEGIN { x = a - 26; y = b - 14; printf "%.3f", sqrt(x * x + y * y) }')" "12.000"
is "asked is kept" "$(value aims ann middle a asked | sed 's/\..*//') $(value aims ann middle a note)" "-14 at L* 60.0, 2 cameras, 2 readings, cut short by bound"
for camera in north south; do
    awk -F '\t' -v c=$camera 'NR == 1 || $2 == c' r | carn-curve-solve -f aims --by-subject >$camera.curve
done
is "both cameras come there" "$(cut -f 3 north.curve | tail -n 1)" "$(cut -f 3 south.curve | tail -n 1)"
is "and know what was asked" "$(cut -f 4 north.curve | tail -n 1)" "60.0000 $(value aims ann middle a asked) $(value aims ann middle b asked)"
# Toward ratios a person's hue turns by 10 degrees at most, and chroma stays at 0.85 of the person's
# own or 1.15 times that of published skin (17.9 from L* 73 up, docs/colour.md 6), the least that
# photographs show.
hue() { value "$1" "$2" middle a | awk -v b="$(value "$1" "$2" middle b)" '{ printf "%.2f", atan2(b, $1) * 45 / atan2(1, 1) }'; }
chroma() { value "$1" "$2" middle a | awk -v b="$(value "$1" "$2" middle b)" '{ printf "%.2f", sqrt($1 * $1 + b * b) }'; }
readings red north middle 66 23 19.3 - pale north middle 85 13 18 - golden north middle 78 17 25 - >people
carn-aim-meet people >aims
is "a red person's hue turns by 10 degrees" "$(hue aims red)" "$(awk 'BEGIN { printf "%.2f", atan2(19.3, 23) * 45 / atan2(1, 1) + 10 }')"
is "a pale one keeps chroma" "$(chroma aims pale)" "$(awk 'BEGIN { printf "%.2f", 17.9 * 1.15 }')"
is "a golden one keeps 0.85 of it" "$(chroma aims golden)" "$(awk 'BEGIN { printf "%.2f", sqrt(17 * 17 + 25 * 25) * .85 }')"
is "all say what the rule asked" "$(awk -F '\t' 'NR > 1 && $3 == "a" && /cut short by bound/' aims | wc -l)" 3
carn-aim-meet --bound none people >aims
is "the rule itself is paler" "$(chroma aims pale | awk '{ print ($1 < 16) }')" 1
carn-aim-meet -a far -f house --bound none r >aims
is "--bound none lifts it" "$(value aims ann middle a asked)" "-"

readings ann north middle 60 20 20 mixed bea north middle 50 20 24 - >r
status 1 "no grounds, no aim" carn-aim-meet r
says "which is told" "note: subject 'ann' has only doubtful readings: no aim"
is "the other has one" "$(cut -f 1 "$T/out" | sort -u | tr '\n' ' ')" "aim bea "
cp "$T/out" aims
refused "a curve of a person without an aim" carn-curve-solve -f aims --by-subject <(grep -v bea r)
says "is told" "aims: no aim of subject 'ann'"
refused "a curve of two persons" carn-curve-solve -f aims --by-subject r
says "is told" "subjects 'ann' and 'bea', and a curve by subject is for one"
readings - - middle 96 1 2 - bea north middle 50 20 24 - >r
status 2 "too light for the rule" carn-aim-meet r
is "the other has an aim all the same" "$(cut -f 1 "$T/out" | sort -u | tr '\n' ' ')" "aim bea "
refused "an aim and none" carn-aim-meet -a hue --as-read r
refused "by subject without aims" carn-curve-solve --by-subject r
# Of a person with a middle alone the middle is judged, light and shade are not.
readings ann north middle 60 19 22 - >one
carn-aim-meet --as-read one >middle.aim
{ printf 'subject\ttone\tL\ta\tb\tcyan\tmagenta\tyellow\tblack\n' && printf 'ann\t%s\t10\t30\t40\t5\n' $'light\t75\t14\t17' $'middle\t60\t19\t22' $'shade\t45\t20\t24'; } >three
status 0 "an aim of the middle alone" carn-score --by-subject -f middle.aim three
is "judges the middle alone" "$(tsv '{ print $h["tone"], $h["verdict"], $h["aim_L"] }' out | paste -sd ' ')" "light - - middle on 60.0000 shade - -"
refused "only a card" carn-aim-meet <(readings - - card 60 1 1 -)
finish
