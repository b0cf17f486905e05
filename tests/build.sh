#!/usr/bin/env bash
# The build as promised: make compiles and installs nothing; a user's flags add to what the code
# needs; the runner deletes nothing that it did not make.
# shellcheck disable=SC2317 # the functions are called through check
. "$(dirname "$0")/lib.sh"

planned() { env -u WERROR -u MAKEFLAGS -u MFLAGS -u MAKELEVEL make -n --no-print-directory -C "$TOP" V=1 "$@"; }

planned B="$T/b" >"$T/build" 2>&1
planned B="$T/b" demo >"$T/demo" 2>&1
if grep -q -- '-c -o' "$T/build" && ! grep -qE 'setup|apt|sudo' "$T/build"; then
    pass "make only compiles"
else
    fail "make only compiles" "$(head -n 5 "$T/build")"
fi
if grep -q 'scripts/setup demo' "$T/demo"; then pass "make demo sets up first"; else fail "make demo sets up first"; fi

planned B="$T/b" CPPFLAGS=-DMINE=1 CFLAGS=-Og "$T/b/lib/base/error.o" >"$T/flags" 2>&1
if grep -qE -- '-std=c17 .*-Ilib .*-DMINE=1 -Og ' "$T/flags" && ! grep -q -- -Werror "$T/flags"; then
    pass "flags of a user add to what the code needs"
else
    fail "flags of a user add to what the code needs" "$(cat "$T/flags")"
fi

# What was compiled before a library was there is made anew; otherwise nothing is.
object() { env -u MAKEFLAGS -u MFLAGS -u MAKELEVEL make -s --no-print-directory -C "$TOP" B="$T/o" "$@" "$T/o/lib/base/error.o"; }
check "a file compiles" object ISAL=
check "with the same libraries it stays" object ISAL= -q
status 1 "with another one it is made anew" object ISAL=-lm -q
check "it is" object ISAL=-lm
check "and stays" object ISAL=-lm -q

# What is installed runs from there alone, scripts with what they share.
check "make install" env -u MAKEFLAGS -u MFLAGS -u MAKELEVEL make -s -C "$TOP" B="$CARN_BUILD" DESTDIR="$T/root" PREFIX=/usr install
installed() { env -u CARN_BUILD PATH="$T/root/usr/bin:/usr/bin:/bin" "$@"; }
for script in "$TOP"/scripts/carn-*; do
    name=$(basename "$script")
    status 0 "$name runs installed" installed "$name" --version
done

# One file of the sources: the same bytes under another umask and clock, and all that is in the tree.
dist() { env -u MAKEFLAGS -u MFLAGS -u MAKELEVEL make -s -C "$TOP" dist "B=$T/$1"; }
check "make dist" dist one
(umask 077 && cd "$TOP" && TZ=Asia/Tokyo dist two) >/dev/null 2>&1
same "the same bytes twice" "$T"/one/carnation-*.tar.gz "$T"/two/carnation-*.tar.gz
if git -C "$TOP" rev-parse >/dev/null 2>&1; then
    is "every file that is kept" "$(git -C "$TOP" ls-files | grep -v '^.gitignore$' | sort)" \
        "$(tar tzf "$T"/one/carnation-*.tar.gz | cut -d / -f 2- | sort | grep -xFf <(git -C "$TOP" ls-files))"
else
    skip "every file that is kept" "no git tree"
fi

# A machine without apt-get: only what the script itself calls.
mkdir "$T/bare"
for program in bash env cc; do ln -s "$(command -v "$program")" "$T/bare/$program"; done
status 0 "without apt-get a build goes on" env PATH="$T/bare" bash "$TOP/scripts/setup" build
says "and what is missing is named" '^scripts/setup: make is missing'
status 2 "without headers nothing can be built" env PATH="$T/bare" CC=false bash "$TOP/scripts/setup" build
says "and they are named" 'png.h is missing.* libpng-dev'

# The programs that look at pages are of fixed versions and come from npm once; without them the other tests run.
mkdir -p "$T/tree/scripts" "$T/tree/tests" "$T/fake"
cp "$TOP/scripts/setup" "$T/tree/scripts" && cp -r "$TOP/tests/pages" "$T/tree/tests"
printf '#!/bin/sh\necho installed\n' >"$T/fake/dpkg-query"
printf '#!/bin/sh\nexit 100\n' >"$T/fake/apt-get"
printf '#!/bin/sh\necho "npm $*" >&2\nmkdir -p "$3/node_modules"; [ -z "$NPM" ] || : >"$3/node_modules/.package-lock.json"; test "$NPM"\n' >"$T/fake/npm"
chmod +x "$T"/fake/*
prepared() { env PATH="$T/fake:$PATH" "$@" bash "$T/tree/scripts/setup" "$for"; }
for="test"
status 0 "without a network tests go on" prepared NPM=
is "and one line says what is not looked at" "$(grep -c "pages are not looked at" "$T/out")" 1
for="check"
status 1 "make check does not" prepared NPM=
status 0 "npm installs them" prepared NPM=yes
says "just as the lock file has them" '^npm ci --prefix .*/build/npm --ignore-scripts '
status 0 "and only once" prepared NPM=yes
is "then npm is not asked" "$(cat "$T/err")" ""
is "each is pinned by its sum" "$(grep -c '"integrity": "sha512-' "$TOP/tests/pages/package-lock.json") $(grep -c '"version": ' "$TOP/tests/pages/package-lock.json")" "2 2"

mkdir "$T/mine" && echo kept >"$T/mine/file.tap"
printf 'echo "ok 1 - yes"; echo 1..1\n' >"$T/yes.sh"
status 2 "the runner refuses a folder that is not its own" bash "$TOP/tests/run" "$T/mine" "$T/yes.sh"
status 2 "and a test named first" bash "$TOP/tests/run" "$T/yes.sh" "$T/yes.sh"
check "it makes a folder" bash "$TOP/tests/run" "$T/results" "$T/yes.sh"
check "and uses it again" bash "$TOP/tests/run" "$T/results" "$T/yes.sh"
if [ "$(cat "$T/mine/file.tap")" = kept ] && [ -s "$T/yes.sh" ] && [ "$(tail -n 1 "$T/out")" = "1 passed, 0 failed, 0 skipped" ]; then
    pass "nothing else is deleted"
else
    fail "nothing else is deleted" "$(ls -la "$T/mine")" "$(cat "$T/out")"
fi
finish
