# shellcheck shell=bash
# What the scripts carn-* share; sourced by each after it has set `here`, its own folder.

program=${0##*/}
# shellcheck disable=SC2154 # here is the script's
PATH="${CARN_BUILD:-$here/../build}/bin:$here:$PATH"

die() {
    printf '%s: %s\n' "$program" "${1//[[:cntrl:]]/?}" | sed 's/\xc2[\x80-\x9f]/??/g' >&2
    exit 2
}

# hear: keeps standard error from here on and prints it when the script ends. A note is printed once. When
# one program of a pipeline fails, the next ones find <stdin> cut short; their lines are left out, since the
# first says why. The folder of temporary files is cut from their names. Makes that folder, $hall, which is
# removed at the end.
hear() {
    hall=$(mktemp -d)
    exec 3>&2 2>"$hall/.said"
    trap tell EXIT
}
tell() {
    local status=$?
    exec 2>&3
    export hall program
    awk '
        function plain(line,  at) {
            while ((at = index(line, ENVIRON["hall"] "/")) > 0)
                line = substr(line, 1, at - 1) substr(line, at + length(ENVIRON["hall"]) + 1)
            return line
        }
        function own(line) { sub(/^carn-[a-z-]*: /, ENVIRON["program"] ": ", line); return line }
        { $0 = plain($0) }
        / note: / { if (!seen[$0]++) print; next }
        /^carn-[a-z-]*: <stdin>: / || /: frame cut short in row / { if (after == "") after = $0; next }
        { print own($0); told = 1 }
        END { if (!told && after != "") print own(after) }' "$hall/.said" >&2 || true
    rm -rf -- "$hall"
    exit $status
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

# readable FILE NAME: ends the script with a message about NAME when FILE is no sound table of readings.
# carn-differ checks it: to compare a table with itself it reads all of it.
readable() {
    local got=0 said
    said=$(carn-differ "$1" "$1" 2>&1 >/dev/null) || got=$?
    [ $got -lt 2 ] || die "$2: $(sed -n "/: note: /d; s|^carn-differ: ||; s|^$1: ||p; q" <<<"$said")"
}

# A table as awk can take it: no byte order mark, no comments before the header, no carriage returns.
plain() { sed '1s/^\xef\xbb\xbf//; s/\r$//' "$1" | awk 'on || !/^#/ { on = 1; print }'; }

# tsv PROGRAM TABLE...: awk on tables with a header. at["name"] is the number of a column, `file` that of
# the table. FNR is 1 at a header, which PROGRAM sees too.
tsv() {
    local program=$1
    shift
    awk -F '\t' -v OFS='\t' 'FNR == 1 { file++; split("", at); for (i = 1; i <= NF; i++) at[$i] = i } '"$program" "$@"
}
