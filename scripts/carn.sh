# shellcheck shell=bash
# What the scripts carn-* share; sourced by each after it has set `here`, its own folder.

program=${0##*/}
# shellcheck disable=SC2154 # here is the script's
PATH="$(readlink -m -- "${CARN_BUILD:-$here/../build}")/bin:$here:$PATH"

die() {
    printf '%s: %s\n' "$program" "${1//[[:cntrl:]]/?}" | sed 's/\xc2[\x80-\x9f]/??/g' >&2
    exit 2
}

# read_options ARGUMENT...: the options are those that the script's `usage` prints, a line each:
# `  -l, --long VALUE  what it does`; the letter and VALUE may be missing. For each option given it calls the
# script's `take long [VALUE]`. The operands are then in the array `operands`.
read_options() {
    local form='^ +(-(.), )?--([a-z-]+)( ([^ ]+))?(  |$)' line long
    local -A known=() wants=()
    while IFS= read -r line; do
        [[ $line =~ $form ]] || continue
        long=${BASH_REMATCH[3]}
        known[--$long]=$long wants[$long]=${BASH_REMATCH[5]}
        [ -z "${BASH_REMATCH[2]}" ] || known[-${BASH_REMATCH[2]}]=$long
    done < <(usage)
    while [ $# -gt 0 ]; do
        case $1 in
        --help) usage && exit 0 || exit 2 ;;
        --version) carn-score --version | sed "s/carn-score/$program/" && exit 0 || exit 2 ;;
        --) shift && break ;;
        -?*) ;;
        *) break ;;
        esac
        long=${known[$1]:-}
        [ -n "$long" ] || die "unknown option '$1'; see $program --help"
        if [ -z "${wants[$long]}" ]; then
            take "$long" && shift && continue
        fi
        [ $# -ge 2 ] || die "no argument after option '$1'; see $program --help"
        take "$long" "$2"
        shift 2
    done
    # shellcheck disable=SC2034 # for the script
    operands=("$@")
}
