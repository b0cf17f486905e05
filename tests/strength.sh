#!/usr/bin/env bash
# carn-curve-solve --strength: linear in CIELAB, on every depth of skin, through a weight plane, alpha
# untouched.
. "$(dirname "$0")/lib.sh"
printf 'frame\tpatch\tx\ty\tw\th\n*\tall\t0\t0\t100%%\t100%%\n' >p.tsv

# flat DEPTH TUPLTYPE SAMPLES...: 64 x 64 pixels of one colour, untagged.
flat() {
    printf 'P7\nWIDTH 64\nHEIGHT 64\nDEPTH %d\nMAXVAL 65535\nTUPLTYPE %s\nENDHDR\n' "$1" "$2"
    printf '%s\n' "${@:3}" | awk '{ s = s sprintf("%c%c", int($1 / 256), $1 % 256) } END { for (i = 0; i < 4096; i++) printf "%s", s }'
}
moved() { awk -F '\t' 'NR == 2 { print $2 " " $3 }' "$1"; }
printf 'depth\tstrength\tshare\toff\n' >shares
for case in "light 56027 44053 38041" "medium 44050 31050 24070" "deep 21050 13040 10030"; do
    read -r depth r g b <<<"$case"
    flat 3 RGB "$r" "$g" "$b" >f.pam
    carn-sample -p p.tsv <f.pam >r.tsv 2>/dev/null
    carn-curve-solve -a common r.tsv >whole.curve
    for strength in 0 0.25 0.5 0.75 1; do
        carn-curve-solve -a common --strength $strength r.tsv >part.curve
        carn-curve-apply -c part.curve <f.pam 2>/dev/null | carn-sample -p p.tsv >after.tsv 2>/dev/null
        # How far along the whole move the reading went, and how far beside it.
        echo "$(moved whole.curve) $(cell r.tsv L) $(cell r.tsv a) $(cell r.tsv b) $(cell after.tsv L) $(cell after.tsv a) $(cell after.tsv b)" |
            awk -v d="$depth" -v s=$strength -v OFS='\t' '{ x = $5 - $2; y = $6 - $3; u = $11 - $8; v = $12 - $9; n = sqrt(x * x + y * y)
                off = (u * y - v * x) / n; L = $10 - $7; print d, s, (u * x + v * y) / n / n, sqrt(off * off + L * L) }' >>shares
    done
done
holds "light, medium, deep: a reading goes the share asked for within 0.005 (16 bits) and not beside" 'abs(c["share"] - c["strength"]) < 0.005 && c["off"] < 0.02' shares
is "of 15 moves" "$(tail -n +2 shares | wc -l)" 15
is "strength 0 moves nothing" "$(carn-curve-solve -a skin --strength 0 r.tsv | awk -F '\t' 'NR == 2 { print ($2 == $3) }')" 1
carn-curve-solve -a common --strength 1 r.tsv >one.curve
same "strength 1 is the whole move" one.curve whole.curve
carn-curve-solve -a skin --strength 0.5 r.tsv >half.curve
carn-curve-apply -c half.curve <f.pam 2>/dev/null | carn-sample -p p.tsv 2>/dev/null >half.tsv
carn-curve-solve -a common --strength 0.2 r.tsv >fifth.curve
carn-curve-apply -c fifth.curve <f.pam 2>/dev/null | carn-sample -p p.tsv 2>/dev/null >fifth.tsv
status 1 "a fifth of the way is held, so far from the aim that a person has to look" carn-score -c fifth.curve fifth.tsv
is "in words" "$(cell "$T/out" verdict)" held
grep -q 'cut short by strength' half.curve && pass "its note says why" || fail "its note says why"

# Through a weight of a half, half a move: a quarter of the way, in encoded values; alpha stays.
flat 5 RGB_ALPHA_WEIGHT "$r" "$g" "$b" 40000 32768 >w.pam
carn-curve-apply -c half.curve <w.pam 2>/dev/null | tail -c 10 | od -An -v -tu1 -w2 | awk '{ print $1 * 256 + $2 }' | paste -sd ' ' >got
carn-curve-apply -c half.curve <f.pam 2>/dev/null | tail -c 6 | od -An -v -tu1 -w2 | awk '{ print $1 * 256 + $2 }' | paste -sd ' ' >full
is "alpha and weight are untouched" "$(cut -d ' ' -f 4,5 got)" "40000 32768"
paste -d ' ' got full | awk -v r="$r" -v g="$g" -v b="$b" '{ d = $1 - (r + $6) / 2; e = $2 - (g + $7) / 2; f = $3 - (b + $8) / 2
    exit !(d * d < 2 && e * e < 2 && f * f < 2 && $6 != r) }' && pass "a weight of a half goes half of it" || fail "a weight of a half goes half of it" "$(cat got full)"

# Several tones, and following.
"$SCENE" --list >singers.tsv
while IFS=$'\t' read -r singer depth _; do
    for camera in north south; do
        "$SCENE" -w 200 -h 266 -s "$singer" --camera $camera -n x.tif >x.pam
        "$SCENE" -w 200 -h 266 -s "$singer" -n x.tif --patches >q.tsv
        carn-sample -q -p q.tsv <x.pam >$camera.r
    done
    carn-curve-solve -l north.r south.r >follow.curve
    carn-curve-solve --strength 0.4 -l north.r south.r >less.curve
    paste <(tail -n +2 follow.curve) <(tail -n +2 less.curve) | awk -F '\t' -v OFS='\t' -v d="$depth" '{ split($2, f, " "); split($3, t, " "); split($8, l, " ")
        for (i = 2; i <= 3; i++) { e = l[i] - f[i] - .4 * (t[i] - f[i]); print d, (e < 0 ? -e : e) } }' >>follows
done < <(tail -n +2 singers.tsv)
figures=$(awk '{ n[$1]++; if ($2 > worst) worst = $2 } END { printf "light %d, medium %d, deep %d values within %.4f", n["light"], n["medium"], n["deep"], worst; exit !(worst <= 0.0002 && n["deep"] > 0) }' follows)
if [ $? -eq 0 ]; then pass "following by 0.4: $figures"; else fail "following by 0.4: $figures"; fi

for bad in -0.1 1.1 half ''; do refused "a strength of '$bad'" carn-curve-solve --strength "$bad" r.tsv; done
finish
