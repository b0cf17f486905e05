#!/usr/bin/env bash
# What the fuzzers check (tests/fuzz) holds for their seeds, for these changed a little, and for every
# input that was found to fail before (tests/fuzz/found).
. "$(dirname "$0")/lib.sh"
replay=$CARN_BUILD/tests/replay
"$TOP/tests/fuzz/seeds.py" "$T/seeds" "$BIN" || fail "seeds are made"
status 2 "without a target it tells those there are" "$replay"
targets=$(sed 's/^fuzz: no such target; there are: //' err)
is "each has seeds" "$(printf '%s\n' seeds/* | sed 's,.*/,,' | sort)" "$(tr ' ' '\n' <<<"$targets" | sort)"
rm -f seeds/jpeg/cmyk # refused by its form; a seed all the same
check "all seeds of pictures are read" carn-decode seeds/{png,tiff,jpeg,pnm}/*
for target in $targets; do
    inputs=("$T/seeds/$target"/*)
    [ ! -d "$TOP/tests/fuzz/found/$target" ] || inputs+=("$TOP/tests/fuzz/found/$target"/*)
    check "$target: ${#inputs[@]} inputs" "$replay" "$target" "${inputs[@]}"
done
finish
