#!/usr/bin/env bash
# Where one verdict ends and the next begins (carn-score(1)), each limit from both sides.
. "$(dirname "$0")/lib.sh"
row() { printf 'L\ta\tb\tcyan\tmagenta\tyellow\n%s\t%s\t%s\t%s\t%s\t%s\n' "$@"; }
# said VERDICT OPTION...: the verdict of the row on standard input, then its words.
said() { carn-score "$@" >s 2>err; printf '%s: %s' "$(cell s verdict)" "$(cell s words)"; }
aim() { printf 'aim\tquantity\tvalue\ttolerance\nx\ta\t%s\t%s\nx\tb\t%s\t%s\n' "$1" "$3" "$2" "$3"; }

# A turn that was cut short ends at 55 16 24; b* 25.6 is 0.90 from there, 26 is 1.13 (CIEDE2000).
printf 'kind\tfrom\tto\tasked\tnote\nturn\t55 20 26\t55 16 24\t55 10 20\tbound\n' >cut.curve
aim 10 20 2 >far.aims
row 55 16 25.6 20 40 50 >near
row 55 16 26 20 40 50 >beyond
carn-differ -t 0.95 <(row 55 16 24 1 1 1) near >/dev/null && ! carn-differ -t 1.05 <(row 55 16 24 1 1 1) beyond >/dev/null &&
    pass "0.9 and 1.1 from where the turn ends" || fail "0.9 and 1.1 from where the turn ends"
is "within 1 of the end of a cut turn it is held" "$(said -f far.aims -a x -c cut.curve <near)" "held: more magenta, more coloured"
is "farther it is off" "$(said -f far.aims -a x -c cut.curve <beyond | cut -d : -f 1)" off
is "and without the curve too" "$(said -f far.aims -a x <near | cut -d : -f 1)" off

# Words: terms of CIEDE2000 over 0.5, ink over 1 %.
aim 16 24 5 >own.aims
is "b* 1.1 more goes without words" "$(said -f own.aims -a x < <(row 55 16 25.1 20 40 50))" "on: -"
is "b* 1.2 more is yellower" "$(said -f own.aims -a x < <(row 55 16 25.2 20 40 50))" "on: yellower"
is "0.9 % of magenta more goes without words" "$(said < <(row 60 18 28 20 40.9 50.5))" "on: -"
is "1.1 % is said" "$(said < <(row 60 18 28 20 41.1 50.5))" "on: magenta high by 1"

# Ratios need 5 % of cyan, which the aim has up to L* 92.
for L in 92 95; do carn-score < <(row $L 4 7 4 8 10) >s 2>>light.said; done
is "at L* 95 the aim has too little, at 92 enough" "$(grep -oE 'only [0-9.]+ % of cyan at L\* [0-9.]+' light.said)" "only 3.7 % of cyan at L* 95.0"
# Where the aim has under 12 % of cyan, CIEDE2000 decides, up to 1.5, whatever the ratios.
aim_at() { row "$1" 9 15 8 16 20 | carn-score 2>/dev/null >s; printf '%s %s %s %s' "$(cell s aim_L)" "$(cell s aim_a)" "$(cell s aim_b)" "$(cell s flags)"; }
read -r L a b flags <<<"$(aim_at 84)"
is "at L* 84 the aim has little cyan" "$flags" low-cyan
is "at L* 82 it has enough" "$(aim_at 82 | cut -d ' ' -f 4)" -
for case in "2.1 on 1.4" "2.3 off 1.6"; do
    read -r more verdict far <<<"$case"
    row "$L" "$a" "$(awk -v b="$b" -v d="$more" 'BEGIN { print b + d }')" 4 16 64 >r
    is "about $far from it is $verdict, with ratios of 4 and 4" "$(said <r | cut -d : -f 1)" "$verdict"
    printf '# %s\n' "$(cell s ciede2000)"
done
finish
