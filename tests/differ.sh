#!/usr/bin/env bash
# carn-differ: pairing, figures and words.
. "$(dirname "$0")/lib.sh"
table() { printf 'subject\tpatch\ttone\tL\ta\tb\n'; printf '%b\n' "$@"; }

# Published pairs of CIEDE2000 (tests/data/ciede2000_sharma2005.tsv), through the program.
grep -v '^#' "$DATA/ciede2000_sharma2005.tsv" | tail -n +2 | awk -F '\t' -v OFS='\t' '
    BEGIN { print "patch\tL\ta\tb" >"one"; print "patch\tL\ta\tb" >"two" }
    { print $1, $2, $3, $4 >"one"; print $1, $5, $6, $7 >"two"; print $8 >"want" }'
status 1 "34 published pairs" carn-differ one two
tsv '$h["patch"] != "*" { print $h["ciede2000"] }' "$T/out" |
    paste - want | awk '{ d = $1 - $2; if (d < 0) d = -d; n++; bad += d > 1.5e-4 } END { exit !(n == 34 && !bad) }' &&
    pass "their CIEDE2000 as published" || fail "their CIEDE2000 as published"

table 'aino\tcheek\tmiddle\t60\t18\t22' 'aino\tcheek\tmiddle\t62\t20\t24' 'birk\tcheek\tmiddle\t50\t18\t22' >a
table 'aino\tcheek\tmiddle\t61\t17\t29' 'carl\tcheek\tmiddle\t50\t18\t22' >b
status 1 "rows of a key are pooled, others named" carn-differ a b
is "the pooled colour" "$(cell "$T/out" first_L) $(cell "$T/out" first_a) $(cell "$T/out" first_b)" "61.0000 19.0000 23.0000"
is "one pair and its tone" "$(wc -l <"$T/out") $(cell "$T/out" subject 2) $(cell "$T/out" tone 2)" "3 * middle"
is "words" "$(cell "$T/out" words)" "yellower, more coloured"
says "only in the first" "subject 'birk'.*only in the first"
says "only in the second" "subject 'carl'.*only in the second"
carn-differ b a >back 2>/dev/null
is "swapped, the words swap" "$(cell back words)" "more magenta, greyer"
check "within a tolerance" carn-differ -t 10 a b
check "the same table" carn-differ a a
# Greys near L* 50, where CIEDE2000 is the difference of L*.
table 'aino\tcheek\tmiddle\t50\t0\t0' >grey
check "within CIEDE2000 1, unless told" carn-differ grey <(table 'aino\tcheek\tmiddle\t50.9\t0\t0')
status 1 "beyond it" carn-differ grey <(table 'aino\tcheek\tmiddle\t51.1\t0\t0')
refused "different subjects do not pair" carn-differ a <(table 'carl\tcheek\tmiddle\t50\t18\t22')
check "but for --any-subject" carn-differ -t 20 --any-subject a <(table 'carl\tcheek\tmiddle\t50\t18\t22')
refused "- matches only -" carn-differ a <(table 'aino\tcheek\t-\t50\t18\t22')
finish
