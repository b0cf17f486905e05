# The report of a job: numbers from work/, words for people. Run by job-summary in the job folder.
# -v mode=default|audit. An audit has no pictures: its "after" is after the cards.

function put(text) { printf "%s\n", text > txt }
function row_out(part, about, what, count, before, after, note) {
    printf "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", part, about, what, count, before, after, note == "" ? "-" : note > tsv
}
function person(about, what, note) { persons++; person_about[persons] = about; person_what[persons] = what; person_note[persons] = note }
function html(text) { gsub(/&/, "\\&amp;", text); gsub(/</, "\\&lt;", text); gsub(/>/, "\\&gt;", text); gsub(/"/, "\\&quot;", text); return text }
function plural(n, word) { return n " " word (n == 1 ? "" : "s") }
function own_name(text, i) { # messages tell of ids, people know names
    gsub(/&/, "\\\\&", text)
    while (index(text, "work/in/" id[i])) text = swap(text, "work/in/" id[i], frame[i])
    while (index(text, "work/out/" id[i])) text = swap(text, "work/out/" id[i], "out/" out[i])
    return text
}
function swap(text, from, to,  at) { at = index(text, from); return substr(text, 1, at - 1) to substr(text, at + length(from)) }
function remember(stage, i,  f) { for (f = 1; f <= figures; f++) value[stage, i, figure[f]] = reading[figure[f]] }

# Copies the rows of a scored table with the frame's own name.
function copy_rows(file, to, i,  line) {
    while ((getline line < file) > 0) {
        if (line ~ /^frame\t/) { if (!header[to]++) print line > to; continue }
        print frame[i] substr(line, index(line, "\t")) > to
    }
    close(file)
}

# Widest difference of a figure between the frames of list ("2 5 9") at a stage; "-" for under two.
function range(list, stage, f,  part, n, k, v, low, high, m) {
    n = split(list, part, " "); m = 0
    for (k = 1; k <= n; k++) {
        v = value[stage, part[k], f]
        if (v == "-") continue
        if (m == 0 || v < low) low = v
        if (m == 0 || v > high) high = v
        m++
    }
    return m < 2 ? "-" : high - low
}
function middle_of(list, stage, f,  part, n, k, v, m) {
    n = split(list, part, " "); m = 0
    for (k = 1; k <= n; k++) if (value[stage, part[k], f] != "-") v[++m] = value[stage, part[k], f]
    return median(v, m)
}
# The same between the cameras' medians.
function camera_range(s, stage, f,  part, n, k, v, low, high, m) {
    n = split(cameras_of[s], part, "\001"); m = 0
    for (k = 1; k <= n; k++) {
        v = middle_of(frames_of[s, part[k]], stage, f)
        if (v == "-") continue
        if (m == 0 || v < low) low = v
        if (m == 0 || v > high) high = v
        m++
    }
    return m < 2 ? "-" : high - low
}

# One block of the headline: a line a subject, the widest twelve in the text, then mean and widest.
function spread_block(part, title,  s, f, b, a, k, line, n, sum_b, sum_a, most_b, most_a, count, shown, rows, order, far, m, worst_b, worst_a) {
    n = 0
    for (s = 1; s <= subjects; s++) {
        line = ""; m = 0
        for (f = 1; f <= 4; f++) {
            b = part == "spread" ? range(all_of[subject_name[s]], "before", shown_figure[f]) : camera_range(subject_name[s], "before", shown_figure[f])
            a = part == "spread" ? range(all_of[subject_name[s]], "after", shown_figure[f]) : camera_range(subject_name[s], "after", shown_figure[f])
            if (b == "-" && a == "-") continue
            m++
            row_out(part, subject_name[s], shown_figure[f], count_of[subject_name[s]], number(b, digits[f]), number(a, digits[f]), unit[f])
            line = line sprintf("  %6s to %-6s", number(b, digits[f] > 2 ? 2 : digits[f]), number(a, digits[f] > 2 ? 2 : digits[f]))
            if (b != "-" && a != "-") { count[f]++; sum_b[f] += b; sum_a[f] += a; if (b > most_b[f]) most_b[f] = b; if (a > most_a[f]) most_a[f] = a }
            if (f == 1) far[n + 1] = a == "-" ? -1 : a
        }
        if (m == 0) continue
        n++
        rows[n] = sprintf("  %-14s %6d", subject_name[s], count_of[subject_name[s]]) line
    }
    if (n == 0) return
    put(title)
    put(sprintf("  %-14s %6s  %-16s  %-16s  %-16s  %-16s", "subject", "frames", "hue, degrees", "chroma", "M/C", "Y/M"))
    for (k = 1; k <= n && k <= 12; k++) {
        m = 0
        for (s = 1; s <= n; s++) if (!(s in shown) && (m == 0 || (n > 12 && far[s] > far[m]))) m = s
        shown[m]; put(rows[m])
    }
    if (n > 12) put("  and " n - 12 " more in summary.tsv")
    worst_b = worst_a = ""
    for (f = 1; f <= 4; f++) {
        if (count[f] == 0) continue
        row_out(part, "mean", shown_figure[f], count[f], number(sum_b[f] / count[f], digits[f]), number(sum_a[f] / count[f], digits[f]), unit[f])
        row_out(part, "widest", shown_figure[f], count[f], number(most_b[f], digits[f]), number(most_a[f], digits[f]), unit[f])
        worst_b = worst_b sprintf("  %6s to %-6s", number(sum_b[f] / count[f], 2), number(sum_a[f] / count[f], 2))
        worst_a = worst_a sprintf("  %6s to %-6s", number(most_b[f], 2), number(most_a[f], 2))
    }
    put(sprintf("  %-14s %6s", "mean", "") worst_b)
    put(sprintf("  %-14s %6s", "widest", "") worst_a)
    put("")
}

# How far a reading lies from the middle of its group, against how far the others do.
function outliers(  g, part, n, k, m, L, a, b, far, sorted, scale) {
    for (g = 1; g <= groups; g++) {
        n = split(members[group_name[g]], part, " ")
        m = 0
        for (k = 1; k <= n; k++) if (value["neutral", part[k], "L"] != "-") part[++m] = part[k]
        if (m < 2) continue
        L = pool_middle(part, m, "L"); a = pool_middle(part, m, "a"); b = pool_middle(part, m, "b")
        for (k = 1; k <= m; k++) {
            far[k] = sqrt((value["neutral", part[k], "L"] - L)^2 + (value["neutral", part[k], "a"] - a)^2 + (value["neutral", part[k], "b"] - b)^2)
            sorted[k] = far[k]
        }
        scale = 1.4826 * median(sorted, m)
        if (m == 2) scale = 1 # two that differ: nobody knows which is right
        if (scale < 1) scale = 1
        for (k = 1; k <= m; k++) {
            i = part[k]
            outlier[i] = far[k] > 4 && far[k] > 3.5 * scale
            if (outlier[i])
                person(frame[i], "outlier", sprintf("its reading lies %.1f from the middle of %s (CIE76, %.1f times what is usual there); corrected with the group's curve", far[k], plural(m, "frame"), far[k] / scale))
        }
    }
}
function pool_middle(part, m, f,  k, v) { for (k = 1; k <= m; k++) v[k] = value["neutral", part[k], f]; return median(v, m) }

# Settings that differ under one card, and pictures whose profile differs from the rest.
function differing(key, names, groups_by,  k, i, v, list, n, part, text, most, common, p) {
    split("", list)
    for (k = 1; k <= frames; k++) {
        v = fact[id[k], key]
        if (v == "" || v == "-") continue
        if (!((names[k], v) in list)) { kinds[names[k], key] = kinds[names[k], key] "\001" v; p_count[names[k], key]++ }
        list[names[k], v] = list[names[k], v] " " k
    }
    split("", done)
    for (k = 1; k <= frames; k++) {
        if ((names[k]) in done || p_count[names[k], key] < 2) continue
        done[names[k]]
        n = split(substr(kinds[names[k], key], 2), part, "\001")
        text = ""; common = ""; most = 0
        for (i = 1; i <= n; i++) { p = split(list[names[k], part[i]], ignore, " "); if (p > most) { most = p; common = part[i] } }
        for (i = 1; i <= n; i++) {
            p = split(list[names[k], part[i]], ignore, " ")
            text = text (text == "" ? "" : ", ") part[i] " (" plural(p, "frame") (part[i] != common ? ": " frame[ignore[1]] (p > 1 ? " ..." : "") : "") ")"
        }
        person(names[k], "settings", key " differs " groups_by ": " text)
    }
}

BEGIN {
    txt = "report/summary.txt.part"; tsv = "report/summary.tsv.part"
    printf "" > txt
    print "part\tabout\twhat\tframes\tbefore\tafter\tnote" > tsv
    figures = split("L a b chroma hue ita cyan magenta yellow black magenta_by_cyan yellow_by_magenta ciede2000", figure, " ")
    split("hue chroma magenta_by_cyan yellow_by_magenta", shown_figure, " ")
    split("2 2 3 3", digits, " ")
    split("degrees|C*ab|ratio|ratio", unit, "|")
    split("on held unsure off", verdict_word, " ")
    split("light medium deep", depth_word, " ")
    audit = mode == "audit"

    # ---- what there is ----
    while ((getline line < "work/settings") > 0) { at = index(line, " "); set[substr(line, 1, at - 1)] = substr(line, at + 1) }
    table_begin()
    while ((getline line < "work/facts.tsv") > 0)
        if (table_row(line)) for (k in row) fact[row["frame"], k] = row[k]
    table_begin()
    while ((getline line < "work/frames.tsv") > 0) {
        if (!table_row(line)) continue
        i = ++frames
        id[i] = row["id"]; frame[i] = row["frame"]; subject[i] = row["subject"]; camera[i] = row["camera"]
        card[i] = row["card"]; group[i] = row["group"]; approved[i] = row["approved"]; out[i] = row["out"]
        grounds[i] = row["grounds"]; sure[i] = row["confidence"]; faces[i] = row["faces"]; follows[i] = row["follows"]
        index_of[id[i]] = i
    }
    table_begin()
    while ((getline line < "work/cards.tsv") > 0)
        if (table_row(line)) { cards++; card_id[cards] = row["id"]; card_frame[row["id"]] = row["card"] }

    before_file = "report/before.tsv.part"; after_file = "report/after.tsv.part"
    for (i = 1; i <= frames; i++) {
        failed[i] = exists("work/" id[i] ".failed")
        for (f = 1; f <= figures; f++) value["before", i, figure[f]] = value["after", i, figure[f]] = value["neutral", i, figure[f]] = "-"
        if (failed[i]) {
            failures++
            person(frame[i], "failed", own_name(first_line("work/" id[i] ".failed"), i))
            continue
        }
        if (grounds[i] == "none") { # delivered, but nothing proves it
            verdict[i] = "unsure"; words[i] = "no skin found"; flags[i] = "-"; blind++
            continue
        }
        read_frame("work/" id[i] ".found"); remember("before", i)
        read_frame("work/" id[i] ".before"); remember("neutral", i)
        verdict_before[i] = reading["verdict"]; words_before[i] = reading["words"]
        copy_rows("work/" id[i] ".before", before_file, i)
        if (audit) {
            remember("after", i)
        } else {
            read_frame("work/" id[i] ".scored"); remember("after", i)
            copy_rows("work/" id[i] ".scored", after_file, i)
            if (set["LOOK"] != "none") read_frame("work/" id[i] ".plain")
        }
        verdict[i] = reading["verdict"]; words[i] = reading["words"]; flags[i] = reading["flags"]
        depth[i] = depth_of(value["neutral", i, "L"])
        counted[depth[i], verdict[i]]++
        if (!(subject[i] in all_of) && subject[i] != "-") { subjects++; subject_name[subjects] = subject[i] }
        all_of[subject[i]] = all_of[subject[i]] " " i
        count_of[subject[i]]++
        if (!((subject[i], camera[i]) in frames_of)) cameras_of[subject[i]] = cameras_of[subject[i]] (cameras_of[subject[i]] == "" ? "" : "\001") camera[i]
        frames_of[subject[i], camera[i]] = frames_of[subject[i], camera[i]] " " i
        if (!(group[i] in members)) { groups++; group_name[groups] = group[i] }
        members[group[i]] = members[group[i]] " " i
    }

    # ---- the set ----
    stages = audit ? "as shot to after the cards" : "as shot to as delivered"
    spread_block("spread", "Spread over each subject's frames, widest difference, " stages)
    spread_block("cameras", "Across cameras, difference of each subject's medians, " stages)

    put("Verdicts by depth of tone (L* over 60 light, 45 to 60 medium, under 45 deep), aim " set["AIM"] (audit ? ", nothing corrected" : ""))
    put(sprintf("  %-7s %6s %6s %6s %6s %6s", "depth", "frames", "on", "held", "unsure", "off"))
    for (d = 1; d <= 3; d++) {
        n = 0; good = 0; line = ""
        for (v = 1; v <= 4; v++) {
            c = counted[depth_word[d], verdict_word[v]] + 0
            row_out("verdict", depth_word[d], verdict_word[v], c, "-", "-", "")
            line = line sprintf(" %6d", c); n += c
            total[verdict_word[v]] += c
            if (v <= 2) good += c
        }
        put(sprintf("  %-7s %6d%s", depth_word[d], n, line))
        if (n > 0) {
            share = 100 * good / n
            if (depths == 0 || share < lowest) lowest = share
            if (depths == 0 || share > highest) highest = share
            depths++
        }
    }
    if (blind > 0) { row_out("verdict", "-", "unsure", blind, "-", "-", "no skin found"); put(sprintf("  %-7s %6d%21d         no skin found", "-", blind, blind)); total["unsure"] += blind }
    if (failures > 0) { row_out("verdict", "-", "failed", failures, "-", "-", ""); put(sprintf("  %-7s %6d  failed", "-", failures)) }
    if (depths > 1) {
        row_out("verdict", "gap", "on or held", "-", "-", sprintf("%.1f", highest - lowest), "per cent between the depths")
        put(sprintf("  on or held: %.0f %% at least in each depth, %.0f %% at most; the gap is %.0f", lowest, highest, highest - lowest))
    }
    if (set["LOOK"] != "none" && !audit) put("  judged before the look, which leaves the aim on purpose")
    put("")

    # ---- cards ----
    for (k = 1; k <= cards; k++) {
        file = "work/" card_id[k] ".card"
        used = 0
        for (i = 1; i <= frames; i++) if (card[i] == card_id[k]) used++
        if (exists("work/" card_id[k] ".cardfailed") || !exists(file)) {
            broken_cards++
            text = first_line("work/" card_id[k] ".cardfailed")
            while (index(text, "work/in/" card_id[k])) text = swap(text, "work/in/" card_id[k], card_frame[card_id[k]])
            person(card_frame[card_id[k]], "card", "could not be measured, " plural(used, "frame") " went without the neutral step: " text)
            continue
        }
        n = 0; bad = ""
        table_begin()
        while ((getline line < file) > 0) if (table_row(line)) { v_L[++n] = row["L"]; if (row["flags"] != "-") bad = bad (bad == "" ? "" : ",") row["flags"] }
        close(file)
        card_L[k] = median(v_L, n)
        card_stops[k] = log(((card_L[k] + 16) / 116)^3) / log(2)
        if (bad != "") person(card_frame[card_id[k]], "card", "its patch is " bad ": the neutral of " plural(used, "frame") " stands on it")
        levels[++measured] = card_stops[k]
    }
    level = median(levels, measured)
    if (measured > 0) put("Cards, exposure against their middle")
    low = high = 0
    for (k = 1; k <= cards; k++) {
        if (!(k in card_L)) continue
        stops = int((card_stops[k] - level) * 100 + (card_stops[k] < level ? -.5 : .5)) / 100 + 0 # no minus zero
        if (stops < low) low = stops
        if (stops > high) high = stops
        row_out("card", card_frame[card_id[k]], "stops", "-", sprintf("%+.2f", stops), "-", sprintf("L* %.1f", card_L[k]))
        put(sprintf("  %-24s L* %.1f, %+.2f stops", card_frame[card_id[k]], card_L[k], stops))
    }
    if (measured > 0) put("")
    if (high - low > 0.1)
        person("cards", "exposure", sprintf("differ by %.2f stops%s", high - low, set["EQUALISE"] == "yes" ? ", equalised" : "; EQUALISE = yes in the Makefile brings all to one level"))
    for (i = 1; i <= frames; i++) if (card[i] == "+none") without++
    if (without > 0) person("cards", "missing", plural(without, "frame") " without a card in job.tsv, so without the neutral step")

    # ---- who needs a person ----
    for (i = 1; i <= frames; i++) {
        if (failed[i]) continue
        if (grounds[i] == "none")
            person(frame[i], "borrowed", "no skin found in it: its group's curve, not measured; a row in patches.tsv says where")
        else if (grounds[i] == "unsure")
            person(frame[i], "borrowed", "where skin was found is unsure (" number(sure[i], 2) "): its group's curve")
        if (faces[i] > 1) person(frame[i], "faces", faces[i] " faces found, the largest is measured")
        if (grounds[i] != "given") looked++
        if (grounds[i] != "none" && (verdict[i] == "off" || verdict[i] == "unsure"))
            person(frame[i], verdict[i], (words[i] == "-" ? "" : words[i]) (flags[i] == "-" ? "" : (words[i] == "-" ? "" : "; ") "flags " flags[i]))
        if (!audit && exists("work/" id[i] ".frozen")) person(frame[i], "approved", first_line("work/" id[i] ".frozen"))
        if (subject[i] == "-") nameless++
        else if (set["FOLLOW"] != "none" && camera[i] != set["FOLLOW"] && follows[i] == "-" && !told_alone[subject[i], camera[i]]++)
            person(subject[i], "follow", "no picture by " set["FOLLOW"] " to follow: those by " camera[i] " keep to the aim")
        card_of[i] = card[i] == "+none" ? "no card, " camera[i] : "card " card_frame[card[i]]
        one[i] = "job"
    }
    for (i = 1; i <= frames; i++) { if (!(i in card_of)) { card_of[i] = card[i] == "+none" ? "no card, " camera[i] : "card " card_frame[card[i]]; one[i] = "job" } }
    if (nameless > 0) person("job.tsv", "subject", plural(nameless, "frame") " without a subject: each has a curve of its own")
    outliers()
    if (looked > 0) person("patches", "found", "in " plural(looked, "frame") "; report/contact.html shows where, a row in patches.tsv wins")
    n = split("iso shutter aperture flash white_balance lens", setting, " ")
    for (k = 1; k <= n; k++) differing(setting[k], card_of, "under one card")
    for (i = 1; i <= frames; i++) if (fact[id[i], "white_balance"] == "auto") automatic++
    if (automatic > 0) person("job", "settings", plural(automatic, "frame") " with automatic white balance: one card does not stand for them")
    differing("profile", one, "in one job, keep to one working profile")
    while ((getline line < "work/plan.notes") > 0) person("job.tsv", "row", line)

    put("What needs a person" (persons == 0 ? ": nothing" : ""))
    # What concerns many pictures first, and whole; of single pictures, forty.
    for (pass = 1; pass <= 2; pass++)
        for (k = 1; k <= persons; k++) {
            single = person_what[k] ~ /^(failed|off|unsure|outlier|approved|borrowed|faces)$/
            if (single == (pass == 1)) continue
            row_out("person", person_about[k], person_what[k], "-", "-", "-", person_note[k])
            if (!single || ++singles <= 40) put("  " person_about[k] ": " person_what[k] (person_note[k] == "" ? "" : ": " person_note[k]))
        }
    if (singles > 40) put("  and " singles - 40 " more pictures in summary.tsv")

    # ---- notes of the programs, one a kind ----
    for (i = 1; i <= frames; i++)
        for (k = 1; k <= 4; k++) {
            file = "work/notes/" id[i] "." (k == 1 ? "found" : k == 2 ? "made" : k == 3 ? "scored" : "readings")
            while ((getline line < file) > 0) {
                at = index(line, ": note: ")
                if (at == 0) continue
                line = own_name(substr(line, at + 8), i)
                text = line
                if (index(text, frame[i]) == 1) text = substr(text, length(frame[i]) + 1)
                if (!(text in noted_of)) { notes++; note_text[notes] = text; note_first[text] = line }
                if (!((text, i) in noted)) { noted[text, i]; noted_of[text]++ }
            }
            close(file)
        }
    # What the neutral does near white differs in its figures from card to card: that is for carn-explain.
    for (k = 1; k <= notes; k++) {
        if (note_text[k] ~ /gain/) continue
        row_out("note", "-", "-", noted_of[note_text[k]], "-", "-", note_first[note_text[k]])
        put("note: " note_first[note_text[k]] (noted_of[note_text[k]] > 1 ? " (" plural(noted_of[note_text[k]], "frame") ")" : ""))
    }

    status = failures + broken_cards > 0 ? 2 : total["off"] + total["unsure"] > 0 ? 1 : 0
    put("")
    put(sprintf("%s: %d on, %d held, %d unsure, %d off, %d failed", plural(frames, "frame"), total["on"], total["held"], total["unsure"], total["off"], failures))
    put("status " status)
    print "status\t" status > tsv
    close(txt); close(tsv); close(before_file); close(after_file)
    contact_sheet()
    if (audit) exit

    # ---- provenance: what each picture was made with, and what came of it ----
    file = "report/provenance.tsv.part"
    for (i = 1; i <= frames; i++) {
        if (failed[i] || !exists("work/" id[i] ".made")) continue
        made = "work/" id[i] ".made"
        getline line < made
        if (!provenance++) print line "\tdelivered_L\tdelivered_a\tdelivered_b\tmagenta_by_cyan\tyellow_by_magenta\tverdict" > file
        getline line < made
        close(made)
        print line "\t" number(value["after", i, "L"], 4) "\t" number(value["after", i, "a"], 4) "\t" number(value["after", i, "b"], 4) "\t" \
            number(value["after", i, "magenta_by_cyan"], 4) "\t" number(value["after", i, "yellow_by_magenta"], 4) "\t" verdict[i] > file
    }
    close(file)

    # ---- the page ----
    page = "report/index.html.part"
    print "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Carnation job</title>\n<style>\nbody{font:14px/1.4 sans-serif;margin:2em;background:#808080;color:#fff}\npre{background:#303030;padding:1em;overflow:auto}\ntable{border-collapse:collapse;background:#303030}\ntd,th{padding:.4em .8em;text-align:left;vertical-align:top;border-bottom:1px solid #555}\nimg{display:block}\na{color:#fff}\n.off,.unsure,.failed{color:#fd8}\n</style></head><body>\n<h1>Carnation job</h1>\n<p>Figures describe a picture, not a person. <a href=\"contact.html\">Where skin is measured</a></p>\n<pre>" > page
    while ((getline line < txt) > 0) print html(line) > page
    print "</pre>\n<table><tr><th>as shot<th>as delivered<th>frame<th>subject, camera<th>before<th>after<th>verdict</tr>" > page
    for (i = 1; i <= frames; i++) {
        if (failed[i]) {
            printf "<tr><td><td><td>%s<td>%s, %s<td><td><td class=\"failed\">failed: %s</tr>\n", html(frame[i]), html(subject[i]), html(camera[i]), html(own_name(first_line("work/" id[i] ".failed"), i)) > page
            continue
        }
        printf "<tr><td><img src=\"pictures/%s.before.jpg\" alt=\"\"><td><img src=\"pictures/%s.after.jpg\" alt=\"\"><td>%s<td>%s, %s<td>%s<td>%s<td class=\"%s\">%s%s%s</tr>\n", id[i], id[i], html(frame[i]), html(subject[i]), html(camera[i]), figures_text("neutral", i), figures_text("after", i), verdict[i], verdict[i], words[i] == "-" ? "" : ": " html(words[i]), outlier[i] ? ", outlier" : "" > page
    }
    print "</table></body></html>" > page
    close(page)
}

# All frames, small, with the patches drawn in: those that need a look first.
function contact_sheet(  page, pass, i, look) {
    page = "report/contact.html.part"
    print "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Carnation contact sheet</title>\n<style>\nbody{font:14px/1.4 sans-serif;margin:2em;background:#808080;color:#fff}\nmain{display:flex;flex-wrap:wrap;gap:1em;align-items:flex-start}\nfigure{margin:0;padding:.5em;background:#303030;max-width:240px;overflow-wrap:anywhere}\ndiv{position:relative}\nimg{display:block}\nsvg{position:absolute;left:0;top:0;width:100%;height:100%}\nrect{fill:none;stroke:#fff;stroke-width:2;vector-effect:non-scaling-stroke}\n.look{color:#fd8}\n.look rect{stroke:#fd8}\n</style></head><body>\n<h1>Where skin is measured</h1>\n<p>Does each box lie on evenly lit skin of the right person? A row in patches.tsv moves it. Those to look at come first.</p>\n<main>" > page
    for (pass = 1; pass <= 2; pass++)
        for (i = 1; i <= frames; i++) {
            look = failed[i] || grounds[i] ~ /unsure|none/ || faces[i] > 1
            if (look == (pass == 1))
                printf "<figure%s><div><img src=\"pictures/%s.before.jpg\" alt=\"\"><svg viewBox=\"0 0 100 100\" preserveAspectRatio=\"none\">%s</svg></div><figcaption>%s<br>%s</figcaption></figure>\n", look ? " class=\"look\"" : "", id[i], boxes(i), html(frame[i]), html(grounds_text(i)) > page
        }
    print "</main></body></html>" > page
    close(page)
}
function grounds_text(i) {
    if (failed[i]) return "failed"
    if (grounds[i] == "given") return "from patches.tsv"
    if (grounds[i] == "none") return "no skin found"
    return (grounds[i] == "unsure" ? "unsure" : "found") ", confidence " number(sure[i], 2) (faces[i] > 1 ? ", one of " faces[i] " faces" : "")
}
# The patches of a frame in percent of the upright picture, as it is shown.
function boxes(i,  file, line, text, turned, wide, high) {
    file = "work/" id[i] ".patches"; text = ""
    turned = fact[id[i], "orientation"] >= 5 # Exif: 5 to 8 lie on their side
    wide = fact[id[i], turned ? "height" : "width"]; high = fact[id[i], turned ? "width" : "height"]
    table_begin()
    while ((getline line < file) > 0)
        if (table_row(line) && row["tone"] != "backdrop")
            text = text sprintf("<rect x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\"/>", percent(row["x"], wide), percent(row["y"], high), percent(row["w"], wide), percent(row["h"], high))
    close(file)
    return text
}
function percent(cell, whole) { return cell ~ /%$/ ? cell + 0 : whole > 0 ? 100 * cell / whole : 0 }

function figures_text(stage, i) {
    return sprintf("L* %s, h %s, C* %s<br>M/C %s, Y/M %s", number(value[stage, i, "L"], 1), number(value[stage, i, "hue"], 1), number(value[stage, i, "chroma"], 1), number(value[stage, i, "magenta_by_cyan"], 2), number(value[stage, i, "yellow_by_magenta"], 2))
}
