#!/usr/bin/env bash
# Manuals and programs agree: a page for each program, its options, the columns it prints.
. "$(dirname "$0")/lib.sh"

docs=$TOP/docs
programs=()
for path in "$BIN"/carn-* "$TOP"/scripts/carn-*; do
    [ ! -f "$path" ] || programs+=("$path")
done

if needs "pages are sound mdoc" mandoc; then
    for page in "$docs"/*.[157]; do
        mandoc -T lint -W warning "$page" >"$T/out" 2>&1
        if [ -s "$T/out" ]; then
            fail "$(basename "$page") is sound mdoc" "$(cat "$T/out")"
        else
            pass "$(basename "$page") is sound mdoc"
        fi
    done
fi

# The options of --help, a line each: `-p --patches`, `--bound`; two on a line are two options.
help_options() {
    "$1" --help | awk '/^ +-/ {
        sub(/^ +/, "")
        if (match($0, /^-[A-Za-z0-9], --[a-z-]+/)) { print substr($0, 1, 2), substr($0, 5, RLENGTH - 4); next }
        while (match($0, /^--[a-z-]+/)) {
            print substr($0, 1, RLENGTH)
            $0 = substr($0, RLENGTH + 1)
            if (!sub(/^, /, "")) break
        }
    }'
}

# The same of a page: the tags of its lists.
page_options() {
    awk '/^\.It Fl/ {
        out = ""
        for (i = 2; i <= NF; i++)
            if ($i == "Fl") {
                i++
                if ($i == "Fl") { i++; $i = "-" $i }
                out = out (out == "" ? "" : " ") "-" $i
            }
        if (out ~ /^--[a-z-]+ --/) sub(/ /, "\n", out) # two options, not two forms of one
        print out
    }' "$1"
}

# The letters and long forms in a page's SYNOPSIS.
synopsis_options() {
    awk '/^\.Sh/ { on = $2 == "SYNOPSIS"; next }
        on { for (i = 1; i < NF; i++) if ($i == "Fl") {
            if ($(i + 1) ~ /^-/) { print "-" $(i + 1); continue }
            for (k = 1; k <= length($(i + 1)); k++) print "-" substr($(i + 1), k, 1)
        } }' "$1"
}

# shellcheck source=/dev/null # made by the build
. "$CARN_BUILD/share/bash-completion/completions/carnation"
for path in "${programs[@]}"; do
    name=$(basename "$path")
    page=$docs/$name.1
    if [ ! -f "$page" ]; then
        fail "$name has a page"
        continue
    fi
    help_options "$path" | sort >"$T/help"
    page_options "$page" | sort >"$T/page"
    same "$name: the page has the options of --help, both forms" "$T/help" "$T/page"
    tr ' ' '\n' <"$T/help" | sort >"$T/forms"
    COMP_WORDS=("$name" -) COMP_CWORD=1
    _carnation
    is "$name: bash completes them" "$(printf '%s\n' "${COMPREPLY[@]}" | sort)" "$(cat "$T/forms")"
    strange=$(synopsis_options "$page" | sort -u | comm -23 - "$T/forms")
    if [ -z "$strange" ]; then pass "$name: its synopsis names no other option"; else fail "$name: its synopsis names no other option" "$strange"; fi
    missing=''
    for section in NAME SYNOPSIS DESCRIPTION 'EXIT STATUS' EXAMPLES 'SEE ALSO'; do
        grep -qx "\.Sh $section" "$page" || missing+=" '$section'"
    done
    if [ -z "$missing" ]; then pass "$name: its sections"; else fail "$name: its sections" "missing:$missing"; fi
    if have mandoc; then
        mandoc -T ascii -O width=78 "$page" | sed 's/.\x08//g' | expand >"$T/set"
        lines=$(wc -l <"$T/set")
        [ "$lines" -ge 30 ] && [ "$lines" -le 100 ] && pass "$name: two screens of 50 lines ($lines)" || fail "$name: two screens of 50 lines" "$lines"
        is "$name: of 80 columns" "$(grep '.\{81\}' "$T/set")" ""
    fi
done

COMP_WORDS=(carn-encode -z '') COMP_CWORD=2
_carnation
is "a value that is none of few words is left to the names of files" "${#COMPREPLY[@]}" 0
COMP_WORDS=(carn-encode -b '')
_carnation
is "few words are offered" "${COMPREPLY[*]}" "8 16"
COMP_WORDS=(carn-encode --comp) COMP_CWORD=1
_carnation
is "a beginning is completed" "${COMPREPLY[*]}" "--compression"
is "every program is" "$(complete -p "${programs[@]##*/}" 2>&1 | grep -c _carnation)" "${#programs[@]}"

for page in "$docs"/*.1; do
    name=$(basename "$page" .1)
    if [ -x "$BIN/$name" ] || [ -x "$TOP/scripts/$name" ]; then pass "$name is a program"; else fail "$name is a program"; fi
done

# Every environment variable that is read is documented.
variables=$(grep -rhoE '(getenv\("|\$\{|\$\(or \$\()(CARN_[A-Z]+|TMPDIR)' "$TOP"/tools "$TOP"/lib "$TOP"/scripts/carn* "$TOP"/scripts/job* |
    grep -oE 'CARN_[A-Z]+|TMPDIR' | sort -u)
is "carnation.7 tells of the variables that are read" \
    "$(sed -n 's/^\.It Ev //p' "$docs/carnation.7" | sort)" "$variables"

# The map names every other page.
for page in "$docs"/*.[15]; do
    name=$(basename "$page")
    grep -qE "Xr ${name%.?} ${name##*.}( |\$)" "$docs/carnation.7" && pass "carnation.7 names $name" || fail "carnation.7 names $name"
done

# Columns, as the programs print them.
{ printf 'P6 20 20 255\n' && awk 'BEGIN { for (i = 0; i < 400; i++) printf "~op" }'; } >"$T/north-01-aino.ppm"
printf 'frame\tpatch\tx\ty\tw\th\n*\tcheek\t0%%\t0%%\t100%%\t100%%\n' >"$T/patches.tsv"
carn-decode "$T/north-01-aino.ppm" 2>/dev/null | carn-sample -p "$T/patches.tsv" 2>/dev/null >"$T/readings"
carn-score -a skin "$T/readings" >"$T/scored"
carn-curve-solve -a skin "$T/readings" >"$T/curve"
# documented PAGE TABLE: every column of TABLE is tagged in PAGE.
documented() {
    local column bad='' columns
    columns=$(head -n 1 "$2" | tr '\t' '\n')
    for column in $columns; do
        awk -v want="$column" '/^\.It Li/ { for (i = 3; i <= NF; i++) if ($i == want) found = 1 } END { exit !found }' "$1" ||
            bad+=" $column"
    done
    if [ -n "$columns" ] && [ -z "$bad" ]; then
        pass "$(basename "$1") has the columns of $(basename "$2")"
    else
        fail "$(basename "$1") has the columns of $(basename "$2")" "missing:$bad"
    fi
}
documented "$docs/carn-tables.5" "$T/readings"
documented "$docs/carn-tables.5" "$T/scored"
documented "$docs/carn-curve.5" "$T/curve"
finish
