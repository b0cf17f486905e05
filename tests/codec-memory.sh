#!/usr/bin/env bash
# The n-th allocation fails, for every n, in carn-decode and carn-encode: one line and status 2, or the
# very same output; never a crash, never something left out for want of memory. TIFF stands aside:
# libtiff 4.5 itself crashes when an allocation fails while it reads or sets a tag.
. "$(dirname "$0")/lib.sh"
cd "$T" || exit 1
case $CARN_BUILD in
*sanitized* | *asan*)
    skip "failing allocations" "the sanitizers have allocators of their own"
    finish
    ;;
esac
cat >nth.c <<'END'
#include <stdlib.h>
extern void *__libc_malloc(size_t), *__libc_calloc(size_t, size_t), *__libc_realloc(void *, size_t);
static int now(void)
{
    static long want = -1, at;
    if (want < 0)
        want = getenv("NTH") != NULL ? atol(getenv("NTH")) : 0;
    return want > 0 && ++at == want;
}
void *malloc(size_t size) { return now() ? NULL : __libc_malloc(size); }
void *calloc(size_t count, size_t size) { return now() ? NULL : __libc_calloc(count, size); }
void *realloc(void *old, size_t size) { return now() ? NULL : __libc_realloc(old, size); }
END
if ! "${CC:-cc}" -shared -fPIC -O1 -o nth.so nth.c 2>/dev/null; then
    skip "failing allocations" "no C compiler, or no GNU C library"
    finish
fi

# A frame with everything that a file can carry.
{
    printf 'P7\n#@ name x\n#@ depth 8\n#@ orientation 6\n#@ resolution 300%%20300%%20inch\n#@ xmp %s\n' "$(printf '<x:xmpmeta/>' | base64 -w 0)"
    printf '#@ iptc %s\n' "$(printf '\034\002\005\000\003abc' | base64 -w 0)"
    # Exif of an artist and, in its directory, an exposure time.
    printf '#@ exif %s\n' "$(printf 'II*\0\010\0\0\0\002\0\073\001\002\0\003\0\0\0AB\0\0\151\207\004\0\001\0\0\0\046\0\0\0\0\0\0\0\001\0\232\202\005\0\001\0\0\0\070\0\0\0\0\0\0\0\001\0\0\0\175\0\0\0' | base64 -w 0)"
    printf '#@ icc %s\n' "$(head -c 4000 "$TOP/lib/data/coated-late-black.icc" | base64 -w 60 | sed '2,$s/^/#@+ /')"
    printf 'WIDTH 5\nHEIGHT 3\nDEPTH 3\nMAXVAL 65535\nTUPLTYPE RGB\nENDHDR\n'
    head -c 90 /dev/zero | tr '\0' 'a'
} >all.pam

# each NAME OUTPUT COMMAND...: until 20 allocations in a row were not there to fail.
each() {
    local name=$1 output=$2 n=0 calm=0 got bad=()
    shift 2
    "$@" <all.pam >stdout 2>/dev/null
    cp "$output" want
    while [ $calm -lt 20 ] && [ ${#bad[@]} -lt 20 ]; do
        n=$((n + 1))
        got=0
        rm -f "$output"
        LD_PRELOAD=./nth.so NTH=$n "$@" <all.pam >stdout 2>err || got=$?
        case $got in
        0) cmp -s want "$output" && calm=$((calm + 1)) || bad+=("$n: other output, status 0") ;;
        2)
            calm=0
            complaints err
            [ $said -eq 1 ] || bad+=("$n: $(cat err)")
            [ "$output" = stdout ] || [ ! -e "$output" ] || bad+=("$n: a file is left")
            ;;
        *) bad+=("$n: status $got") && calm=0 ;;
        esac
    done
    [ ${#bad[@]} -eq 0 ] && [ $n -gt 40 ] && pass "$name: any of $((n - 20)) allocations fails" || fail "$name: one of $((n - 20)) allocations fails" "${bad[@]}"
}
for form in png jpg pam; do
    carn-encode all.$form <all.pam 2>/dev/null
    each "carn-encode $form" new.$form carn-encode new.$form
    each "carn-decode $form" stdout carn-decode all.$form
done
[ "$(find . -name '.carn*' | wc -l)" -eq 0 ] && pass "no temporary file is left" || fail "no temporary file is left"
finish
