# shellcheck shell=bash
# What the scripts of a job share; sourced.

# keep FILE: standard input, unless FILE holds it already: then FILE keeps its time too.
keep() {
    cat >"$1.part"
    if cmp -s -- "$1.part" "$1"; then rm -f -- "$1.part"; else mv -f -- "$1.part" "$1"; fi
}

# decode CELL: the bytes of a table's cell (carn-tables(5): %HH for control bytes) into $name.
decode() {
    name=$1
    [[ $name == *%* ]] || return 0
    local out='' byte
    while [[ $name =~ ^([^%]*)%(.*)$ ]]; do
        out+=${BASH_REMATCH[1]} name=${BASH_REMATCH[2]}
        if [[ ${name:0:2} =~ ^[0-9A-Fa-f]{2}$ ]]; then
            printf -v byte '%b' "\\x${name:0:2}"
            out+=$byte name=${name:2}
        else
            out+=%
        fi
    done
    name=$out$name
}
