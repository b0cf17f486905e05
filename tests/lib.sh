# shellcheck shell=bash
# What every shell test shares; sourced, not run. Prints TAP (Test Anything Protocol).
# A test sources it, calls check, status and the like, and ends with `finish`.
# It runs in $T, a fresh folder that goes away. $BIN has the programs, $DATA the outside tables, $TOP the tree.

set -uo pipefail
TOP=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
CARN_BUILD=${CARN_BUILD:-$TOP/build}
BIN=$CARN_BUILD/bin
# shellcheck disable=SC2034 # for the tests
SCENE=$CARN_BUILD/tests/scene
# shellcheck disable=SC2034 # for the tests
FACES=$CARN_BUILD/tests/faces
# shellcheck disable=SC2034 # for the tests
DATA=$TOP/tests/data
T=$(mktemp -d)
trap 'rm -rf "$T"' EXIT
cd "$T" || exit 1
unset CARN_SEPARATION
# Tests count and sort bytes and read numbers with a point, whatever the user's locale.
unset LANG LANGUAGE
export LC_ALL=C
export CARN_BUILD PATH="$BIN:$TOP/scripts:$PATH"
count=0
failed=0

pass() { count=$((count + 1)); printf 'ok %d - %s\n' "$count" "$1"; }
fail() {
    count=$((count + 1)) failed=$((failed + 1))
    printf 'not ok %d - %s\n' "$count" "$1"
    shift
    [ $# -eq 0 ] || printf '%s\n' "$@" | sed 's/^/# /'
}
skip() { count=$((count + 1)); printf 'ok %d - %s # skip %s\n' "$count" "$1" "$2"; }

# status N NAME COMMAND...: passes when the command exits with N. Its output is kept in $T/out and
# $T/err, and shown when it fails.
status() {
    local want=$1 name=$2 got=0
    shift 2
    "$@" >"$T/out" 2>"$T/err" || got=$?
    if [ "$got" -eq "$want" ]; then
        pass "$name"
    else
        fail "$name" "$* exited with $got, not $want" "$(head -c 2000 "$T/out" | tr -d '\000')" "$(head -c 2000 "$T/err")"
    fi
}
check() { status 0 "$@"; }

# complaints FILE: sets said to how many lines are no notes, and mine to how many of all lines begin with a
# program's name. Without starting a program, which is most of what a short test costs.
complaints() {
    local line
    said=0 mine=0
    while IFS= read -r line || [ -n "$line" ]; do
        [[ $line == *': note: '* ]] || said=$((said + 1))
        [[ ! $line =~ ^carn-[a-z-]*:\  ]] || mine=$((mine + 1))
    done <"$1"
}

# refused NAME COMMAND...: bad input or usage as the contract has it: status 2, one line on standard
# error (notes aside) that begins with the program's name, nothing on standard output.
refused() {
    local name=$1 got=0
    shift
    "$@" >"$T/out" 2>"$T/err" || got=$?
    complaints "$T/err"
    if [ "$got" -eq 2 ] && [ ! -s "$T/out" ] && [ "$said" -eq 1 ] && [ "$mine" -gt 0 ]; then
        pass "$name"
    else
        fail "$name" "$* exited with $got, $(wc -c <"$T/out") bytes out" "$(head -c 2000 "$T/err")"
    fi
}

# sampled N: true the first time and every Nth after it; always with CARN_SWEEP=all, as make check has it.
# For sweeps over many of a kind, of which each finds what another finds.
met=0
sampled() { [ "${CARN_SWEEP:-}" = all ] || [ $((met++ % $1)) -eq 0 ]; }

# says NAME PATTERN: the standard error of the command before matches (grep -E).
says() {
    if grep -qE -- "$2" "$T/err"; then pass "$1"; else fail "$1" "no '$2' in:" "$(head -c 2000 "$T/err")"; fi
}

# is NAME A B: equal texts.
is() { if [ "$2" = "$3" ]; then pass "$1"; else fail "$1" "'$2' is not '$3'"; fi; }

# same NAME A B: equal bytes.
same() {
    if cmp -s "$2" "$3"; then pass "$1"; else fail "$1" "$(cmp "$2" "$3" 2>&1 | head -n 3)"; fi
}

# holds NAME AWK-CONDITION [TABLE]: true for every row of a TSV (standard input or TABLE), of which
# there must be one or more. $name of a column stands as c["name"].
holds() {
    local name=$1 condition=$2 out
    shift 2
    if out=$(awk -F '\t' 'function abs(x) { return x < 0 ? -x : x }
        NR == 1 { for (i = 1; i <= NF; i++) head[i] = $i; next }
        { for (i = 1; i <= NF; i++) c[head[i]] = $i
          rows++
          if (!('"$condition"')) { print; bad++ } }
        END { exit !rows || bad > 0 }' "$@"); then
        pass "$name"
    else
        fail "$name" "not true: $condition" "$(printf '%s' "$out" | head -n 8)"
    fi
}

# tsv [-v NAME=VALUE]... PROGRAM [TABLE]...: awk on tables with a header, which PROGRAM does not see;
# h["name"] is the number of a column.
tsv() {
    local options=()
    while [ "$1" = -v ]; do
        options+=(-v "$2")
        shift 2
    done
    local program=$1
    shift
    awk -F '\t' "${options[@]}" 'FNR == 1 { for (i = 1; i <= NF; i++) h[$i] = i; next } '"$program" "$@"
}

# colours PROGRAM [OPTION]... [FILE]...: awk with the formulas of tests/colour.awk.
colours() {
    local program=$1
    shift
    awk -f "$TOP/tests/colour.awk" -f <(printf '%s\n' "$program") "$@"
}

# cell TABLE COLUMN [ROW]: one value of a TSV, ROW counted from 1.
cell() {
    tsv -v want="$2" -v row="${3:-1}" 'NR == row + 1 { if (want in h) print $h[want]; exit }' "$1"
}

have() { command -v "$1" >/dev/null 2>&1; }

# quiet COMMAND...: without its notes.
quiet() { "$@" 2>/dev/null; }

# needs NAME PROGRAM...: true where all the programs are there; else NAME is skipped.
needs() {
    local name=$1 program
    shift
    for program; do
        have "$program" || { skip "$name" "no $program" && return 1; }
    done
}

finish() {
    printf '1..%d\n' "$count"
    exit $((failed > 0))
}
