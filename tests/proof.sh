#!/usr/bin/env bash
# The whole face's proof (carn-score(1), --before): each condition by itself, at its limit and past it.
. "$(dirname "$0")/lib.sh"
# face FILE SPREAD GREENED  then per tone: L a b: light, middle, shade.
face() {
    local file=$1 spread=$2 green=$3
    shift 3
    printf 'frame\tsubject\tpatch\ttone\tL\ta\tb\tcyan\tmagenta\tyellow\tflags\thue_spread\tgreened\n' >"$file"
    for tone in light middle shade; do
        printf 'f.tif\tann\tface-1\t%s\t%s\t%s\t%s\t27\t54\t67.5\t%s\t%s\t%s\n' $tone "$1" "$2" "$3" "${flag:--}" "$spread" "$green" >>"$file"
        shift 3
    done
}
# verdicts and words of the three rows.
verdicts() { tsv '{ printf "%s ", $h["verdict"] }' "$1"; }
words() { tsv '$h["tone"] == "middle" { print $h["words"] }' "$1"; }
judge() { carn-score "$@" >s 2>err; status=$?; }

face before 3.0 1.0 70 16 22 55 20.3 28.6 42 20 24
face now 3.0 1.0 70 16 22 55 20.3 28.6 42 20 24
judge now
is "the rule judges the middle alone" "$(verdicts s)$status" "- on - 0"
judge --before before now
is "with the face before, light and shade by its modelling" "$(verdicts s)$status" "on on on 0"
is "what it was stands beside it" "$(cell s dL) $(cell s hue_spread_before) $(cell s greened_before)" "0.0000 3.00 1.00"
face now 3.0 1.0 70 16 22 55 20.3 28.6 42 18 26.5
judge --before before now
is "a shade off the middle's turn is off, and so is the face" "$(verdicts s)$status" "on off off 1"
is "in words" "$(words s)" "shade 2.4 off the middle's turn"

# One condition after the other, from both sides: what is just on, and what is just off.
condition() { # NAME WORDS GOOD-FACE BAD-FACE
    local good bad
    read -ra good <<<"$3"
    read -ra bad <<<"$4"
    face now "${good[@]}"
    judge --before before now
    is "$1: at the limit on" "$(verdicts s)$status" "on on on 0"
    face now "${bad[@]}"
    judge --before before now
    is "$1: past it off" "$(cell s verdict 2) $status" "off 1"
    is "$1: words" "$(words s)" "$2"
}
condition "spread of hue" "hue spread 3.0 to 4.3 degrees" "4.25 1 70 16 22 55 20.3 28.6 42 20 24" "4.26 1 70 16 22 55 20.3 28.6 42 20 24"
condition "green" "shade turned green" "3 1.5 70 16 22 55 20.3 28.6 42 20 24" "3 1.51 70 16 22 55 20.3 28.6 42 19 24.5"
condition "lightness" "lighter by 0.4 in the shade" "3 1 70 16 22 55 20.3 28.6 42.29 20 24" "3 1 70 16 22 55 20.3 28.6 42.4 20 24"
condition "darkness" "deeper by 0.5 in the middle" "3 1 70 16 22 54.71 20.3 28.6 42 20 24" "3 1 70 16 22 54.5 20.3 28.6 42 20 24"
face now 9 8 69 16 22 55 20.3 28.6 42 20 24
judge --before before now
is "several, all told" "$(words s)" "deeper by 1.0 in the light, skin turned green, hue spread 3.0 to 9.0 degrees"

# By the person's own colours.
aims() { printf 'aim\ttone\tquantity\tvalue\ttolerance\tasked\n'
    for tone in light middle shade; do printf 'ann\t%s\ta\t20\t-\t%s\nann\t%s\tb\t26\t-\t%s\nann\t%s\tciede2000\t-\t%s\t-\n' $tone "${1:--}" $tone "${2:--}" $tone "$([ $tone = middle ] && echo 1.5 || echo 2)"; done; }
aims >own
face now 3 1 70 20 26 55 20 26 42 20 26
judge -f own --by-subject --before before now
is "all three on the person's own" "$(verdicts s)$status" "on on on 0"
face now 3 1 70 20 26 55 20 26 42 24 25
judge -f own --by-subject --before before now
is "a shade off it" "$(verdicts s)$status" "on off off 1"
is "a shade off it, in words" "$(words s | grep -c 'shade [0-9.]* from the person')" 1
face now 3 1 70 20 26 55 22.4 25 42 20 26
judge -f own --by-subject now
is "a middle 1.9 off it" "$(verdicts s)$status" "on off on 1"
aims 21 28 >own
face now 3 1 70 20 26 55 20 26 42 20 26
judge -f own --by-subject now
is "where it stopped short of the aim it is held" "$(verdicts s)$status" "held held held 0"
aims 16 33 >own
judge -f own --by-subject now
is "with over 3 left to the aim a person has to look" "$(verdicts s)$status" "held held held 1"
flag=not-skin
face now 3 1 70 20 26 55 20 26 42 20 26
aims >own
judge -f own --by-subject --before before now
is "what is no skin is never on nor held" "$(verdicts s)$status" "unsure unsure unsure 1"
flag=-
face now 3 1 70 20 26 55 20 26 42 20 26
printf 'frame\tpatch\ttone\tL\ta\tb\tcyan\tmagenta\tyellow\nf\tx\tlight\t70\t16\t22\t20\t40\t50\n' >alone
judge alone
is "a light without a middle is judged" "$(verdicts s)" "on "
check "aims through a pipe" carn-score -f <(cat own) --by-subject --before <(cat now) now
status 2 "no such person" carn-score -f own --by-subject <(sed 's/ann/bea/' now)
refused "by subject without aims" carn-score --by-subject now
refused "nothing to stand beside" carn-score --before nowhere now
finish
