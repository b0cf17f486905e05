#!/usr/bin/env bash
# Curve files through carn-curve-solve and carn-curve-apply: moves land where they say in any
# encoding, for deep, medium and light skin; what is wrong with a curve is said.
. "$(dirname "$0")/lib.sh"
printf 'frame\tpatch\tx\ty\tw\th\n*\tall\t0\t0\t100%%\t100%%\n' >p.tsv

# Flat frames in sRGB and in the wide encoding, of the colours of three skins: their readings are
# what carn-sample says, so that only the move is tested.
flat() { # PROFILE R G B
    { "$SCENE" -w 96 -h 96 --profile "$1" 2>/dev/null | awk '/^ENDHDR/ { exit } { print }'
      echo ENDHDR
      awk -v r="$2" -v g="$3" -v b="$4" 'BEGIN { n = 96 * 96
          s = sprintf("%c%c%c%c%c%c", int(r / 256), r % 256, int(g / 256), g % 256, int(b / 256), b % 256)
          for (i = 0; i < n; i++) printf "%s", s }'; }
}
i=0
for colour in "55000 45050 38050" "44050 32050 25050" "20050 13050 10050"; do
    i=$((i + 1))
    for profile in srgb wide; do
        # shellcheck disable=SC2086 # three numbers
        flat $profile $colour >$profile.pam
        carn-sample -p p.tsv <$profile.pam >r.tsv
        L=$(cell r.tsv L) a=$(cell r.tsv a) b=$(cell r.tsv b)
        for kind in move turn; do
            printf 'kind\tfrom\tto\n%s\t%s %s %s\t%s %s %s\n' $kind "$L" "$a" "$b" "$L" \
                "$(awk -v v="$a" 'BEGIN { print v + 2.5 }')" "$(awk -v v="$b" 'BEGIN { print v - 4 }')" >$kind.curve
            carn-curve-apply -c $kind.curve <$profile.pam | carn-sample -p p.tsv >moved.tsv
            holds "skin $i in $profile lands where the $kind says" \
                "abs(c[\"L\"] - $L) < 0.01 && abs(c[\"a\"] - $a - 2.5) < 0.01 && abs(c[\"b\"] - $b + 4) < 0.01" moved.tsv
        done
        carn-curve-solve -r $profile.pam r.tsv >solved.curve
        carn-curve-apply -c solved.curve <$profile.pam | carn-sample -p p.tsv | carn-score -c solved.curve >scored.tsv
        holds "skin $i in $profile is brought onto the aim or held, at its own L*" \
            "(c[\"verdict\"] == \"on\" || c[\"verdict\"] == \"held\") && abs(c[\"L\"] - $L) < 0.01" scored.tsv
    done
done

# The bounds, a move of 12 and a quarter more chroma; where they cut a move, hue goes before chroma.
solve() { printf 'L\ta\tb\n%s\n' "$1" | carn-curve-solve "${@:2}" >b.curve 2>err; }
moved() { awk -F '\t' 'NR == 2 { split($2, f, " "); split($3, t, " "); a = t[2] - f[2]; b = t[3] - f[3]
    print sqrt(a * a + b * b), sqrt(t[2]^2 + t[3]^2) / sqrt(f[2]^2 + f[3]^2), t[1] - f[1], $4 != "-" }' b.curve; }
for colour in $'70\t3\t4' $'55\t40\t5' $'40\t5\t10' $'30\t4\t20' $'25\t3\t3' $'80\t20\t2' $'55\t20\t28' $'40\t30\t44'; do
    solve "$colour"
    if moved | awk '{ exit !($1 <= 12.001 && $2 <= 1.2501 && $3 == 0) }'; then pass "the bound holds for ${colour//$'\t'/ } ($(moved))"; else fail "the bound holds for ${colour//$'\t'/ }" "$(moved)" "$(cat err)"; fi
done
solve $'35\t24\t32' -a skin
if moved | awk 'function abs(x) { return x < 0 ? -x : x } { exit !(abs($2 - 0.767) < 0.002 && $3 == 0 && $4 == 0) }'; then pass "toward an aim of its own chroma falls as far as is asked, with deep skin too ($(moved))"; else fail "chroma falls as far as the aim asks" "$(moved)" "$(cat b.curve)"; fi
# Following another camera chroma falls as freely, and rises by a quarter at most too.
follow() { # L a b OF THE CAMERA, OF THE ONE FOLLOWED
    printf 'subject\tpatch\tL\ta\tb\nann\tface\t%s\n' "$1" >followed.r
    printf 'subject\tpatch\tL\ta\tb\nann\tface\t%s\n' "$2" >follows.r
    carn-curve-solve -l followed.r follows.r >b.curve 2>err
}
follow $'55\t15\t20' $'55\t27\t36'
is "20 of chroma fall toward the camera followed" "$(awk -F '\t' 'NR == 2 { print $3, $4 }' b.curve)" "55.0000 15.0000 20.0000 -"
follow $'55\t27\t36' $'55\t15\t20'
if moved | awk '{ exit !($1 <= 12.001 && $2 > 1.2499 && $2 <= 1.2501 && $4 == 1) }'; then pass "but do not rise ($(moved))"; else fail "but do not rise" "$(moved)" "$(cat b.curve err)"; fi
# Published skin at L* 66: C* 19.5, hue 51. From 1.15 to 1.6 times that, only hue turns.
for case in "18 22.42" "24 24" "30 30" "40 31.2"; do
    read -r C want <<<"$case"
    solve "66	$(awk -v c="$C" 'BEGIN { print c * cos(.7), c * sin(.7) }' | tr ' ' '\t')" -a skin
    got=$(awk -F '\t' 'NR == 2 { split($4 == "-" ? $3 : $4, t, " "); printf "%.2f at %.1f", sqrt(t[2]^2 + t[3]^2), atan2(t[3], t[2]) * 180 / 3.14159265358979 }' b.curve)
    if awk -v w="$want" -v g="$got" 'BEGIN { d = g - w; exit !(d * d < 0.04 && g ~ / at 5(1\.0|0\.9)/) }'; then pass "skin of chroma $C: asked $got"; else fail "skin of chroma $C: asked $got, not $want"; fi
done
solve $'40\t5\t10'
if moved | awk '{ exit !($4 == 1 && $2 > 1.2499) }'; then pass "a cut move keeps what was asked"; else fail "a cut move keeps what was asked" "$(cat b.curve)"; fi
solve $'40\t12\t14' --bound none
if moved | awk '{ exit !($4 == 0 && $1 > 12) }'; then pass "--bound none lifts it"; else fail "--bound none lifts it" "$(cat b.curve)"; fi

# Rows without a tone are pooled by their median; tones are pooled when their L* are close.
printf 'patch\ttone\tL\ta\tb\nx\t-\t60\t18\t20\ny\t-\t62\t19\t21\nz\t-\t61\t30\t40\n' | carn-curve-solve >c1
check "rows without a tone become one move at their median" grep -qF "61.0000 19.0000 21.0000" c1
toned() { printf 'patch\ttone\tL\ta\tb\n'; printf '%s\t%s\t%s\t%s\t%s\n' "$@"; }
toned x light 75 14 18 y middle 60 18 22 z shade 56 19 23 c card 60 1 1 >tones
carn-curve-solve tones >c2
if [ "$(grep -c '^turn' c2)" -eq 1 ] && grep -q $'turn\t60.0000 18.0000 22.0000\t60.0000 ' c2; then pass "one turn of the middle serves the whole face"; else fail "one turn of the middle" "$(cat c2)"; fi
toned x light 75 14 18 z shade 56 18 24 w shade 58 16 22 | carn-curve-solve >c2
if [ "$(grep -c '^turn' c2)" -eq 1 ] && grep -q $'turn\t58.0000 16.0000 22.0000' c2; then pass "without a middle all rows stand for it"; else fail "no middle" "$(cat c2)"; fi
carn-curve-solve -W tones >c2
if [ "$(grep -c '^move' c2)" -eq 2 ]; then pass "moves: light apart, middle and shade pooled, the card left out"; else fail "tones" "$(cat c2)"; fi
toned x light 60 18 22 y middle 56 18 23 z shade 52 18 24 | carn-curve-solve -W >c2
if [ "$(grep -c '^move' c2)" -eq 2 ]; then pass "moves, no chain: a tone is pooled by its distance to the lightest"; else fail "a chain of tones" "$(cat c2)"; fi
# Three tones that differ in their casts each meet their own, in light, medium and deep skin.
for L in "75 62 48" "60 48 36" "44 34 24"; do
    read -r light middle shade <<<"$L"
    toned x light "$light" 14 18 y middle "$middle" 17 20 z shade "$shade" 18 19 >first
    toned x light "$light" 13 18 y middle "$middle" 18 22 z shade "$shade" 17 18 >second
    carn-curve-solve --tone -l second first | awk '/^move/ { n++; if ($NF > worst) worst = $NF } END { printf "%d %.2f", n, worst }' >left
    read -r n worst <left
    if awk -v n="$n" -v worst="$worst" 'BEGIN { exit !(n == 3 && worst < 0.15) }'; then pass "three tones, L* $L: each moved to its own within $worst"; else fail "three tones, L* $L: each moved to its own" "$(cat left)"; fi
done
# Following turns each tone, but one within 2 L* of the middle.
toned x light 61.9 17 21 y middle 60 18 22 z shade 57.9 19 23 >first
toned x light 61 15 20 y middle 60 16 21 z shade 58 17 22 >second
carn-curve-solve -l second first >c2
if [ "$(cut -f 2,3 c2 | tail -n +2 | tr '\t\n' ',;')" = "60.0000 18.0000 22.0000,60.0000 16.0000 21.0000;57.9000 19.0000 23.0000,57.9000 17.0000 22.0000;" ]; then pass "following turns each tone, L* is left alone"; else fail "following turns" "$(cat c2)"; fi
carn-curve-solve --tone -l second first >c2
if [ "$(grep -c '^move' c2)" -eq 1 ]; then pass "--tone moves channels"; else fail "--tone" "$(cat c2)"; fi
printf 'patch\tL\ta\tb\tflags\nx\t60\t18\t20\t-\ny\t20\t1\t1\tmixed\n' | carn-curve-solve >c3 2>err
check "a doubtful reading is left out" grep -qF "60.0000 18.0000 20.0000" c3
refused "what is no skin moves nothing" carn-curve-solve <(printf 'L\ta\tb\tflags\n60\t18\t20\tnot-skin\n')

# What is wrong is said, with file and line.
"$SCENE" -w 96 -h 96 >f.pam
bad() { # NAME PATTERN LINES...
    local name=$1 pattern=$2
    shift 2
    printf 'kind\tfrom\tto\n' >bad.curve
    printf '%b\n' "$@" >>bad.curve
    carn-curve-apply -c bad.curve <f.pam >"$T/out" 2>"$T/err"
    if [ $? -eq 2 ] && [ ! -s "$T/out" ] && grep -qE "$pattern" "$T/err"; then pass "$name"; else fail "$name" "$(cat "$T/err")"; fi
}
bad "an unknown kind" "bad.curve: line 2, column 'kind'" 'spin\t50 0 0\t50 1 1'
bad "two numbers for a colour" "line 2, column 'from'" 'move\t50 0\t50 1 1'
bad "a knot outside 0 to 1" "line 2, column 'to'" 'knot\tG 0.5\tG 1.5'
bad "a knot that changes channel" "another channel" 'knot\tG 0.5\tR 0.6'
bad "knots that contradict" "lines 2 and 3: green values" 'knot\tG 0.50\tG 0.52' 'knot\tG 0.51\tG 0.50'
bad "too steep" "line 2: the green curve would have a slope of" 'knot\tG 0.5\tG 0.95'
bad "two neutrals" "line 3.*second neutral" 'neutral\t60 1 1\t60 0 0' 'neutral\t60 2 1\t60 0 0'
bad "a move out of gamut" "line 2: the move leaves the gamut" 'move\t50 20 20\t50 120 20'
bad "a neutral of no colour" "gain" 'neutral\t0.1 0 0\t90 0 0'
refused "no such curve" carn-curve-apply -c nowhere.curve <f.pam
printf 'kind\tfrom\nmove\t50 0 0\n' >short.curve
refused "a missing column" carn-curve-apply -c short.curve <f.pam
says "is named" "no column 'to'"
printf '\xef\xbb\xbfkind\tfrom\tto\r\nknot\tG 0.5\tG 0.52\r\n' >dos.curve
check "a curve from a spreadsheet: byte order mark and CRLF" carn-curve-apply -c dos.curve <f.pam
refused "a grey frame has no colour to move" carn-curve-apply -c dos.curve < <(printf 'P5 2 1 255\nab')

# Turns: with a neutral, a knot and each other, in files of their own or in one; a grey frame passes.
bad "a turn that changes L*" "line 2, column 'to': a turn keeps L\*, and this one goes from 50 to 51" 'turn\t50 20 20\t51 20 22'
bad "a turn of a grey" "line 2, column 'from': a turn begins at a chroma of 1 or more, not at 0.50" 'turn\t50 0.3 0.4\t50 20 22'
bad "a turn that multiplies chroma by too much" "line 2, column 'to': a turn multiplies chroma by at most 4, not by 5.00" 'turn\t50 3 4\t50 15 20'
bad "two turns at one L*" "line 3, column 'from': two turns at L\* 50.4, here and in line 2, are within 0.5" 'turn\t50 20 20\t50 20 22' 'turn\t50.4 20 20\t50.4 18 22'
printf 'kind\tfrom\tto\nneutral\t61.9 -1.3 4.2\t61.9 0 0\n' >n.curve
printf 'kind\tfrom\tto\nturn\t61.3 19.9 32.1\t61.3 18.3 27.4\nturn\t44 17.2 17.9\t44 18.4 25\n' >t.curve
printf 'kind\tfrom\tto\nknot\tG 0.5\tG 0.52\n' >k.curve
{ cat n.curve && tail -n +2 t.curve && tail -n +2 k.curve; } >one.curve
carn-curve-apply -c n.curve <f.pam 2>err | carn-curve-apply -c t.curve 2>err | carn-curve-apply -c k.curve >three 2>err
carn-curve-apply -c n.curve -c t.curve -c k.curve <f.pam >several 2>err
carn-curve-apply -c one.curve <f.pam >single 2>err
same "a neutral, two turns and a knot: three programs or three files" three several
same "or one file" three single
carn-curve-apply -c k.curve -c t.curve -c n.curve <f.pam >other 2>err
if cmp -s three other; then fail "the order counts"; else pass "the order counts"; fi
printf 'P5 2 1 255\nab' | carn-curve-apply -c n.curve -c t.curve 2>err >grey.pam
printf 'P5 2 1 255\nab' | carn-curve-apply -c turn.curve 2>err | tail -c 4 | od -An -tx1 >grey.hex
if [ "$(tr -d ' \n' <grey.hex)" = 61616262 ] && grep -q 'note: .*grey frame' err; then pass "a grey frame passes neutrals and turns as it is, with a note"; else fail "a grey frame" "$(cat err grey.hex)"; fi
# 8 bits: what has no weight comes back exact, what was turned is dithered like all 16-bit samples.
"$SCENE" -w 96 -h 96 | carn-encode -b 8 eight.ppm 2>err
{ printf 'P7\nWIDTH 96\nHEIGHT 96\nDEPTH 4\nMAXVAL 255\nTUPLTYPE RGB_WEIGHT\nENDHDR\n'
  tail -c $((96 * 96 * 3)) eight.ppm | od -An -v -tu1 -w3 | awk '{ printf "%c%c%c%c", $1, $2, $3, NR % 2 ? 0 : 255 }'; } >eight.pam
carn-curve-apply -c t.curve <eight.pam 2>err | carn-encode -b 8 turned.ppm
paste <(tail -c $((96 * 96 * 3)) eight.ppm | od -An -v -tu1 -w3) <(tail -c $((96 * 96 * 3)) turned.ppm | od -An -v -tu1 -w3) |
    awk 'NR % 2 && ($1 != $4 || $2 != $5 || $3 != $6) { lost++ } NR % 2 == 0 && ($1 != $4 || $2 != $5 || $3 != $6) { moved++ } END { print lost + 0, moved + 0; exit !(lost == 0 && moved > 1000) }' >counts &&
    pass "8-bit samples of weight 0 come back exact ($(cat counts))" || fail "8-bit samples of weight 0" "$(cat counts)"
finish
