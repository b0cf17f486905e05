#!/usr/bin/env bash
# The trade's rule (common practice, no source): magenta twice cyan, yellow one and a quarter times
# magenta; its words, and the aim colours that it means through our separation.
. "$(dirname "$0")/lib.sh"

printf 'frame\tpatch\tL\tcyan\tmagenta\tyellow\n%s\n%s\n%s\n' \
    $'one\tcheek\t55\t27\t55\t69' $'two\tcheek\t55\t26\t60\t73' $'three\tcheek\t81\t13\t27\t33' >"$T/hand.tsv"
status 1 "a table made by hand is scored" carn-score "$T/hand.tsv"
cp "$T/out" "$T/scored"
is "27/55/69 is on" "$(cell "$T/scored" verdict 1)" on
is "26/60/73 is off" "$(cell "$T/scored" verdict 2)" off
is "26/60/73 in words" "$(cell "$T/scored" words 2)" "magenta high by 8, yellow high by 8"
is "13/27/33 at L* 81 is on" "$(cell "$T/scored" verdict 3)" on
is "the ratios of 26/60/73" "$(cell "$T/scored" magenta_by_cyan 2) $(cell "$T/scored" yellow_by_magenta 2)" "2.3077 1.2167"
is "columns of the table come first, as they were" "$(head -n 1 "$T/scored" | cut -f 1-6)" "$(head -n 1 "$T/hand.tsv")"
carn-score <"$T/scored" >"$T/again"
same "scoring a scored table changes nothing" "$T/scored" "$T/again"

# a* and b* by L* as computed independently through the same profile (docs/colour.md).
printf '%s\n' '85 6.7 11.9' '75 11.4 18.8' '65 17.3 26.6' '55 20.3 28.6' '45 22.2 29.7' '35 22.5 29.9' '25 17.6 25.1' >"$T/table"
{
    printf 'frame\tpatch\tL\ta\tb\tcyan\tmagenta\tyellow\n'
    while read -r L a b; do
        printf 'near\tp\t%s\t%s\t%s\t20\t40\t50\n' "$L" "$a" "$b"
        printf 'grey\tp\t%s\t5\t5\t20\t40\t50\n' "$L"
        printf 'red\tp\t%s\t35\t15\t20\t40\t50\n' "$L"
    done <"$T/table"
} >"$T/readings"
carn-score "$T/readings" >"$T/scored"
while read -r L a b; do
    holds "the aim at L* $L is within 0.5 of $a $b, from any start" \
        "c[\"L\"] != $L || (abs(c[\"aim_a\"] - $a) <= 0.5 && abs(c[\"aim_b\"] - $b) <= 0.5 && c[\"aim_L\"] == $L)" "$T/scored"
done <"$T/table"
holds "light skin is flagged at L* 85, others are not" \
    'c["L"] == 85 || c["verdict"] != "unsure"' "$T/scored"

# Flags make a verdict unsure; an aim with little cyan is judged by colour difference alone.
flag() { printf 'frame\tpatch\tL\ta\tb\tcyan\tmagenta\tyellow\tflags\n%s\n' "$1" | carn-score >"$T/scored" 2>"$T/err"; }
for word in clipped mixed small dark; do
    flag $'f\tp\t55\t20.3\t28.6\t27\t54\t67.5\t'"$word"
    is "$word makes it unsure" "$(cell "$T/scored" verdict)" unsure
done
flag $'f\tp\t88\t5.5\t9.7\t7\t18\t22\t-'
is "a light reading near its aim colour is on though its ratios are not" "$(cell "$T/scored" verdict) $(cell "$T/scored" flags)" "on low-cyan"
flag $'f\tp\t88\t12\t9.7\t9\t18\t22.5\t-'
is "a light reading far from it is off though its ratios are on" "$(cell "$T/scored" verdict) $(cell "$T/scored" flags)" "off low-cyan"
flag $'f\tp\t96\t3\t4\t3\t6\t7\t-'
is "where the aim has next to no cyan, nothing is printed" "$(wc -c <"$T/scored")" 0
says "but a line that says so" 'only [0-9.]+ % of cyan at L\* 96'

# The house's own aims, and what is wrong with them.
printf 'aim\tquantity\tvalue\ttolerance\nwarm\tmagenta/cyan\t2.1\t5\nwarm\tyellow/magenta\t1.3\t5\nplain\thue\t50\t2\nplain\tchroma\t24\t2\n' >"$T/aims"
check "an aim of one's own" carn-score -f "$T/aims" -a warm <<<$'L\ta\tb\tcyan\tmagenta\tyellow\n55\t20\t30\t20\t42\t54.6'
check "hue and chroma" carn-score -f "$T/aims" -a plain <<<$'L\ta\tb\tcyan\tmagenta\tyellow\n55\t15.4\t18.4\t20\t42\t54.6'
status 1 "and off it" carn-score -f "$T/aims" -a plain <<<$'L\ta\tb\tcyan\tmagenta\tyellow\n55\t18.4\t15.4\t20\t42\t54.6'
refused "an aim nobody knows" carn-score -a rosy "$T/hand.tsv"
refused "an aim with one ratio" carn-score -f <(printf 'aim\tquantity\tvalue\ttolerance\nx\tmagenta/cyan\t2\t5\n') -a x "$T/hand.tsv"
refused "a ratio of nothing" carn-score -f <(printf 'aim\tquantity\tvalue\ttolerance\nx\tmagenta/cyan\t0\t5\n') -a x "$T/hand.tsv"
says "with line, column and value" "line 2, column 'value'.*not 0"

# The figure in docs/, and what the default bound holds of published skin as photographed.
"$TOP/scripts/figure-rule" >"$T/rule.svg"
same "the figure is what the programs say now" "$T/rule.svg" "$TOP/docs/rule.svg"
"$TOP/scripts/figure-rule" --held >"$T/held"
is "the default bound holds, of how many" "$(awk -F '\t' 'NR > 1 { n[$1]++; held[$1] += $5 == "held" }
    END { printf "light %d of %d, medium %d of %d, deep %d of %d", held["light"], n["light"], held["medium"], n["medium"], held["deep"], n["deep"] }' "$T/held")" \
    "light 9 of 94, medium 0 of 14, deep 1 of 3"
holds "chroma rises by a quarter at most" 'c["allowed"] <= 1.2501 * c["chroma"]' "$T/held"
finish
