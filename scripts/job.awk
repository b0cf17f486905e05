# What the job scripts share: tables as carn-tables(5) has them, medians, names made safe.
# For any POSIX awk, run with LC_ALL=C so that characters are bytes.

# Begins a new table in c[]: give it a table's lines one by one; true for a data row, whose cells are
# then row["column"], "-" where the line is short or the column missing (asked for by has()).
function table_begin() { split("", table_head); table_columns = 0 }
function table_row(line,  i, n, cell) {
    sub(/\r$/, "", line)
    if (table_columns == 0) {
        sub(/^\357\273\277/, "", line)
        if (line == "" || line ~ /^#/) return 0
        table_columns = split(line, table_head, "\t")
        split("", row)
        return 0
    }
    if (line == "") return 0
    n = split(line, cell, "\t")
    for (i = 1; i <= table_columns; i++) row[table_head[i]] = i <= n && cell[i] != "" ? cell[i] : "-"
    return 1
}
function has(column,  i) {
    for (i = 1; i <= table_columns; i++) if (table_head[i] == column) return 1
    return 0
}

# Does file exist? Leaves it closed.
function exists(file,  line, got) { got = (getline line < file); close(file); return got >= 0 }

# The first line of a file, "" when there is none.
function first_line(file,  line) { line = ""; if ((getline line < file) < 0) line = ""; close(file); return line }

# Puts v[1..n] in order; the median of it.
function sort_numbers(v, n,  i, k, x) {
    for (i = 2; i <= n; i++) {
        x = v[i]
        for (k = i - 1; k >= 1 && v[k] + 0 > x + 0; k--) v[k + 1] = v[k]
        v[k + 1] = x
    }
}
function median(v, n) {
    if (n == 0) return "-"
    sort_numbers(v, n)
    return n % 2 ? v[(n + 1) / 2] + 0 : (v[n / 2] + v[n / 2 + 1]) / 2
}

# Reads a reading table and leaves in reading[] the median over its rows of skin (those of tone middle
# where there are any) of each figure, the worst verdict, and the words and flags of the row that has
# it. The number of rows; 0 when there is no table.
function read_frame(file,  line, n, names, i, k, middle, v, m, all, keep, worse, cells, status) {
    split("", reading)
    split("L a b chroma hue ita cyan magenta yellow black magenta_by_cyan yellow_by_magenta aim_L aim_a aim_b ciede2000 spread clipped", names, " ")
    split("", cells); n = 0; middle = 0
    table_begin()
    while ((status = (getline line < file)) > 0) {
        if (!table_row(line) || row["tone"] == "card" || row["tone"] == "backdrop") continue
        n++
        for (i in row) cells[n, i] = row[i]
        if (!("magenta_by_cyan" in row) && row["cyan"] > 0 && row["magenta"] > 0) {
            cells[n, "magenta_by_cyan"] = row["magenta"] / row["cyan"]
            cells[n, "yellow_by_magenta"] = row["yellow"] / row["magenta"]
        }
        if (row["tone"] == "middle") middle++
    }
    if (status >= 0) close(file)
    for (i in names) {
        m = 0
        for (k = 1; k <= n; k++) {
            if (middle > 0 && cells[k, "tone"] != "middle") continue
            if (((k SUBSEP names[i]) in cells) && cells[k, names[i]] != "-") v[++m] = cells[k, names[i]]
        }
        reading[names[i]] = median(v, m)
    }
    reading["verdict"] = reading["words"] = reading["flags"] = "-"
    worse = 0
    for (k = 1; k <= n; k++) {
        keep = cells[k, "verdict"]
        keep = keep == "off" ? 4 : keep == "unsure" ? 3 : keep == "held" ? 2 : keep == "on" ? 1 : 0
        if (keep > worse) {
            worse = keep
            reading["verdict"] = cells[k, "verdict"]; reading["words"] = cells[k, "words"]; reading["flags"] = cells[k, "flags"]
        }
    }
    if (n > 0) reading["separation"] = cells[1, "separation"]
    return n
}

function number(x, digits,  text) {
    if (x == "-" || x == "") return "-"
    text = sprintf("%.*f", digits, x)
    if (text ~ /^-[0.]*$/) text = substr(text, 2)
    return text
}
function depth_of(L) { return L == "-" ? "-" : L > 60 ? "light" : L >= 45 ? "medium" : "deep" }

# Names <-> cells: a cell holds control bytes as %HH (carn-tables(5)).
function bytes_begin(  i) {
    for (i = 1; i < 256; i++) { byte[i] = sprintf("%c", i); code[byte[i]] = i; hex[sprintf("%02X", i)] = i; hex[sprintf("%02x", i)] = i }
}
function unescape(cell,  out, at) {
    if (index(cell, "%") == 0) return cell
    out = ""
    while ((at = index(cell, "%")) > 0) {
        out = out substr(cell, 1, at - 1)
        cell = substr(cell, at + 1)
        if (toupper(substr(cell, 1, 2)) in hex) { out = out byte[hex[toupper(substr(cell, 1, 2))]]; cell = substr(cell, 3) }
        else out = out "%"
    }
    return out cell
}

# The one place where a name becomes an id: letters, digits, . _ - stay (no . or - in front), any
# other byte is +HH; what is too long for a file name is cut and ends in ++ and a check sum.
function safe(name,  out, i, c, s, t) {
    out = ""
    for (i = 1; i <= length(name); i++) {
        c = substr(name, i, 1)
        if (c ~ /[A-Za-z0-9_]/ || (i > 1 && c ~ /[.-]/)) out = out c
        else out = out sprintf("+%02X", code[c])
    }
    if (length(out) <= 150) return out
    s = t = 7
    for (i = 1; i <= length(name); i++) {
        s = (s * 257 + code[substr(name, i, 1)]) % 2147483647
        t = (t * 263 + code[substr(name, i, 1)]) % 2147483629
    }
    out = substr(out, 1, 120)
    sub(/\+.?$/, "", out)
    return out "++" sprintf("%08x%08x", s, t)
}

# A pattern of fnmatch(3) as an extended regular expression.
function to_regex(glob,  out, i, c, end) {
    out = "^"
    for (i = 1; i <= length(glob); i++) {
        c = substr(glob, i, 1)
        if (c == "*") out = out ".*"
        else if (c == "?") out = out "."
        else if (c == "\\" && i < length(glob)) { i++; c = substr(glob, i, 1); out = out (c ~ /[A-Za-z0-9]/ ? c : "\\" c) }
        else if (c == "[" && (end = index(substr(glob, i + 2), "]")) > 0) {
            c = substr(glob, i + 1, end)
            sub(/^!/, "^", c)
            out = out "[" c "]"
            i += end + 1
        } else if (c ~ /[][(){}.+^$|\\\/]/) out = out "\\" c
        else out = out c
    }
    return out "$"
}
function stem(name,  i) {
    for (i = length(name); i > 1; i--) if (substr(name, i, 1) == ".") return substr(name, 1, i - 1)
    return name
}
