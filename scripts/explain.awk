# The ten lines of carn-explain. ENVIRON["frame"]: the frame's name, with or without suffix, or the
# name of its delivered file. Run in the job folder; exit status 1 when there is no such frame.

function colour() { return sprintf("L* %s a* %s b* %s, hue %s, chroma %s, C M Y K %s %s %s %s, M/C %s, Y/M %s", number(reading["L"], 1), number(reading["a"], 1), number(reading["b"], 1), number(reading["hue"], 1), number(reading["chroma"], 1), number(reading["cyan"], 0), number(reading["magenta"], 0), number(reading["yellow"], 0), number(reading["black"], 0), number(reading["magenta_by_cyan"], 2), number(reading["yellow_by_magenta"], 2)) }
function change(from, to) { return from == "-" || to == "-" ? "-" : number(to - from, 2) }
function lab(text,  v) { return split(text, v, " ") == 3 ? sprintf("L* %.1f a* %.1f b* %.1f", v[1], v[2], v[3]) : text }

# The rows of a curve file in words.
function moves(file,  line, text) {
    text = ""
    table_begin()
    while ((getline line < file) > 0)
        if (table_row(line)) text = text (text == "" ? "" : "; ") row["kind"] " " lab(row["from"]) " to " lab(row["to"]) (row["asked"] != "-" ? ", asked " lab(row["asked"]) : "") (row["note"] != "-" ? " (" row["note"] ")" : "")
    close(file)
    return text == "" ? "none" : text
}

BEGIN {
    bytes_begin()
    want = ENVIRON["frame"]
    while ((getline line < "work/settings") > 0) { at = index(line, " "); set[substr(line, 1, at - 1)] = substr(line, at + 1) }
    table_begin()
    while ((getline line < "work/frames.tsv") > 0) {
        if (!table_row(line)) continue
        name = unescape(row["frame"])
        rank = name == want || row["frame"] == want ? 3 : unescape(row["out"]) == want ? 2 : stem(name) == want || stem(name) == stem(want) ? 1 : 0
        if (rank > best) { best = rank; for (k in row) f[k] = row[k] }
    }
    if (!best) exit 1
    id = f["id"]
    table_begin()
    while ((getline line < "work/cards.tsv") > 0) if (table_row(line) && row["id"] == f["card"]) card = row["card"]
    table_begin()
    while ((getline line < "work/facts.tsv") > 0) if (table_row(line) && row["frame"] == id) for (k in row) fact[k] = row[k]
    failed = exists("work/" id ".failed")

    printf "1 frame      %s: subject %s, camera %s, %s\n", f["frame"], f["subject"], f["camera"], failed ? "failed" : "delivered as out/" f["out"]
    printf "2 taken      %s x %s, %s bit, profile %s; %s, %s s, f/%s, ISO %s, flash %s, white balance %s, %s\n", fact["width"], fact["height"], fact["depth"], fact["profile"], fact["model"], fact["shutter"], fact["aperture"], fact["iso"], fact["flash"], fact["white_balance"], fact["time"]
    if (f["card"] == "+none") print "3 card       none, so no neutral step"
    else if (!exists("work/" f["card"] ".card")) printf "3 card       %s, which could not be measured: %s\n", card, first_line("work/" f["card"] ".cardfailed")
    else printf "3 card       %s: %s\n", card, moves("work/" f["card"] ".neutral")
    n = read_frame("work/" id ".found"); L_found = reading["L"]
    grounds = f["grounds"] == "given" ? "from patches.tsv" : "found, confidence " number(f["confidence"], 2) (f["grounds"] == "unsure" ? ": under " set["CONFIDENCE"] ", so its curve is borrowed" : "")
    if (f["grounds"] == "none") print "4 as shot    no skin found, so not measured and its curve is borrowed"
    else printf "4 as shot    %s (%d patch%s of skin, %s)\n", n ? colour() : "not measured", n, n == 1 ? "" : "es", grounds
    n = read_frame("work/" id ".before"); L_neutral = reading["L"]
    printf "5 neutral    %s: %s, %s\n", n ? colour() : "not measured", reading["verdict"], reading["words"]
    printf "6 aim        %s at this L*: a* %s b* %s%s; bound %s, strength %s, %s\n", set["AIM"], number(reading["aim_a"], 1), number(reading["aim_b"], 1), f["follows"] == "-" ? "" : ", but it follows " f["follows"], set["BOUND"], f["follows"] == "-" ? set["STRENGTH"] : 1, set["SKIN"] == "yes" ? "only skin moves" : "the whole picture moves"
    pooled = split(first_line("work/" f["group"] ".members"), ignore, " ")
    printf "7 curve      of %d frame%s (%s): %s%s\n", pooled, pooled == 1 ? "" : "s", pooled == 1 && ignore[1] == id ? "its own" : f["subject"] ", " f["camera"], moves("work/" id ".applied"), set["LOOK"] != "none" ? "; then the look " set["LOOK"] : ""
    n = read_frame("work/" id ".scored")
    printf "8 delivered  %s\n", n ? colour() : "not measured"
    printf "9 lightness  %s by the neutral step, %s by the correction\n", change(L_found, L_neutral), change(L_neutral, reading["L"])
    if (set["LOOK"] != "none" && exists("work/" id ".plain")) read_frame("work/" id ".plain")
    if (failed) printf "10 verdict   failed: %s\n", first_line("work/" id ".failed")
    else printf "10 verdict   %s%s%s%s; separation %s\n", reading["verdict"], reading["words"] == "-" ? "" : ": " reading["words"], reading["flags"] == "-" ? "" : "; flags " reading["flags"], exists("work/" id ".frozen") ? "; " first_line("work/" id ".frozen") : "", reading["separation"]
}
