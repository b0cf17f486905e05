# The guesses of carn-job-new, in two stages.
# stage=group: groups the pictures (input: parents, job.tsv, patches.tsv, facts); writes under work the
#   groups, which pictures to look at for a card, and the grid of patches to look with.
# stage=card: reads what was seen through the grid and writes the new rows of job.tsv and patches.tsv
#   and what there is to tell.

function seconds(time,  y, m, d) { # of an ISO time without its zone; days as in the proleptic calendar
    y = substr(time, 1, 4) + 0; m = substr(time, 6, 2) + 0; d = substr(time, 9, 2) + 0
    if (m <= 2) { y--; m += 12 }
    return ((365 * y + int(y / 4) - int(y / 100) + int(y / 400) + int((153 * (m - 3) + 2) / 5) + d) * 86400) + substr(time, 12, 2) * 3600 + substr(time, 15, 2) * 60 + substr(time, 18)
}
function plural(n, word) { return n " " word (n == 1 ? "" : "s") }
function raw(name) { gsub(/\001/, "\n", name); return name }

# Indices 1..n sorted by key[]: heaps of pictures, so no bubble.
function sort_keys(key, order, n,  gap, i, k, x) {
    for (i = 1; i <= n; i++) order[i] = i
    for (gap = int(n / 2); gap > 0; gap = int(gap / 2))
        for (i = gap + 1; i <= n; i++) {
            x = order[i]
            for (k = i; k > gap && (key[order[k - gap]] > key[x] || (key[order[k - gap]] == key[x] && order[k - gap] > x)); k -= gap) order[k] = order[k - gap]
            order[k] = x
        }
}

BEGIN { FS = "\t"; bytes_begin() }
FNR == 1 { file++; table_begin() }

# ---- stage group ----
stage == "group" && file == 1 && FILENAME ~ /parents/ { at = index($0, "\t"); name = substr($0, 1, at - 1); if (at == 0) next; parent[raw(name)] = substr($0, at + 1); next }
stage == "group" && FILENAME ~ /job\.tsv$/ {
    if (table_row($0)) { old_subject[row["frame"]] = row["subject"]; old_card[row["frame"]] = row["card"]; old_camera[row["frame"]] = row["camera"]; old[row["frame"]] }
    if (table_columns > 0 && !columns) { columns = 1; printf "%s\n", head_line() > (work "/columns") }
    next
}
stage == "group" && FILENAME ~ /patches\.tsv$/ {
    if (table_row($0)) { if (row["tone"] == "card") has_card[row["frame"]]; else if (row["tone"] != "backdrop") skin++ }
    else if (table_columns > 0 && !patch_columns) { patch_columns = 1; printf "%s\n", head_line() > (work "/patch.columns") }
    next
}
stage == "group" && table_row($0) {
    n++
    frame[n] = row["frame"]; width[n] = row["width"]
    time[n] = row["time"] == "-" ? "" : seconds(row["time"]); clock[n] = row["time"]
    model[n] = row["model"] == "-" ? "" : (row["make"] != "-" && index(tolower(row["model"]), tolower(row["make"])) != 1 ? row["make"] " " : "") row["model"]
    serial[n] = row["serial"]
    settings[n] = row["iso"] "\t" row["shutter"] "\t" row["aperture"] "\t" row["flash"] "\t" row["white_balance"]
    said[n] = (row["shutter"] == "-" ? "" : ", " row["shutter"] " s") (row["aperture"] == "-" ? "" : ", f/" row["aperture"]) (row["iso"] == "-" ? "" : ", ISO " row["iso"]) (row["flash"] == "fired" ? ", flash" : "") (row["white_balance"] == "auto" ? ", automatic white balance" : "")
    if (model[n] != "" && serial[n] != "-" && !((model[n], serial[n]) in bodies)) { bodies[model[n], serial[n]]; body_count[model[n]]++ }
    if (!(parent[unescape(frame[n])] in parents)) { parents[parent[unescape(frame[n])]]; folder_count++ }
}
function head_line(  i, line) { line = table_head[1]; for (i = 2; i <= table_columns; i++) line = line "\t" table_head[i]; return line }

END {
    if (stage == "group") group_stage()
    else card_stage()
}

function group_stage(  i, k, g, x, order, key, list, subject_no) {
    for (i = 1; i <= n; i++) {
        # Two bodies of a model are two cameras; without any Exif, a folder each is a good guess.
        camera[i] = model[i] != "" ? model[i] (body_count[model[i]] > 1 ? " #" serial[i] : "") : folder_count > 1 && parent[unescape(frame[i])] != "" ? parent[unescape(frame[i])] : "-"
        if (frame[i] in old) camera[i] = old_camera[frame[i]]
        key[i] = camera[i] "\t" (time[i] == "" ? "1" : sprintf("0%015.3f", time[i])) "\t" frame[i]
    }
    sort_keys(key, order, n)
    printf "" > (work "/groups"); printf "" > (work "/look")
    for (k = 1; k <= n; k++) {
        i = order[k]; x = k > 1 ? order[k - 1] : 0
        apart = x && time[i] != "" && time[x] != "" && time[i] - time[x] > gap * 60
        if (!x || camera[i] != camera[x] || apart) session++
        if (!x || camera[i] != camera[x] || apart || settings[i] != settings[x]) { group++; in_group = 0 }
        in_group++
        group_of[i] = group
        if (in_group <= look && width[i] != "-" && !(frame[i] in old)) print frame[i] > (work "/look")
        session_of[i] = session
    }
    # Subjects: all cameras on one clock, a new one after each pause.
    for (i = 1; i <= n; i++) key[i] = time[i] == "" ? "2" : sprintf("1%015.3f", time[i])
    sort_keys(key, list, n)
    for (k = 1; k <= n; k++) {
        i = list[k]; x = k > 1 ? list[k - 1] : 0
        if (time[i] == "") { subject[i] = "-"; continue }
        if (!x || time[i] - time[x] > pause) subject_no++
        subject[i] = sprintf("subject-%02d", subject_no)
        if (frame[i] in old && old_subject[frame[i]] != "-") known_subject[subject_no] = old_subject[frame[i]]
        number_of[i] = subject_no
    }
    for (k = 1; k <= n; k++) {
        i = order[k]
        if (number_of[i] in known_subject) subject[i] = known_subject[number_of[i]]
        print group_of[i] "\t" session_of[i] "\t" frame[i] "\t" subject[i] "\t" camera[i] "\t" (frame[i] in old ? old_card[frame[i]] : "?") "\t" (frame[i] in has_card) "\t" (width[i] == "-" ? "unreadable" : "-") "\t" clock[i] "\t" said[i] > (work "/groups")
    }
    print skin + 0 > (work "/skin")
    # The grid, of squares in most pictures.
    print "frame\tpatch\ttone\tx\ty\tw\th" > (work "/grid")
    for (k = 0; k < 32; k++) for (i = 0; i < 24; i++)
        printf "*\t%d.%d\t-\t%.4f%%\t%.4f%%\t%.4f%%\t%.4f%%\n", i, k, i * 100 / 24, k * 100 / 32, 100 / 24, 100 / 32 > (work "/grid")
}

# ---- stage card ----
# The columns of what carn-sample printed: frame subject camera patch tone pixels r g b X Y Z L a b chroma ... spread clipped flags
stage == "card" {
    split($4, at_cell, ".")
    if (!($1 in picture_number)) { picture_number[$1] = ++pictures; picture[pictures] = $1 }
    p = picture_number[$1]; x = at_cell[1] + 0; y = at_cell[2] + 0
    L[p, x, y] = $13; a[p, x, y] = $14; b[p, x, y] = $15; chroma[p, x, y] = $16
}

function far(p, x, y, q, u, v) { return sqrt((L[p, x, y] - L[q, u, v])^2 + (a[p, x, y] - a[q, u, v])^2 + (b[p, x, y] - b[q, u, v])^2) }
function calm(p, x, y) { return ((p, x, y) in L) && L[p, x, y] > 20 && L[p, x, y] < 92 && chroma[p, x, y] < 20 }

# The likeliest card of picture p: the best rectangle of calm cells that are all alike; how sure in
# best, 0 to 1, where in card_x0.. in cells, its colour in card_L, card_chroma.
function find_card(p,  x, y, u, v, seen, top, stack, size, x0, x1, y0, y1, sum, square, fill, even, ring, rings, edge, sure, other, q, apart, border, xy, part, across) {
    best = 0
    for (y = 0; y < 32; y++) for (x = 0; x < 24; x++) {
        if (((x, y) in seen) || !calm(p, x, y)) continue
        # Cells as near to this one, in a piece.
        split("", piece); size = 0; top = 1; stack[1] = x SUBSEP y; seen[x, y]; piece[x, y]
        while (top > 0) {
            split(stack[top--], part, SUBSEP); u = part[1] + 0; v = part[2] + 0
            size++
            near(p, x, y, u + 1, v); near(p, x, y, u - 1, v); near(p, x, y, u, v + 1); near(p, x, y, u, v - 1)
            while (found > 0) { seen[next_u[found], next_v[found]]; stack[++top] = next_u[found] SUBSEP next_v[found]; found-- }
        }
        if (size < 6) continue
        x0 = y0 = 99; x1 = y1 = -1
        for (xy in piece) { split(xy, part, SUBSEP); if (part[1] + 0 < x0) x0 = part[1] + 0; if (part[1] + 0 > x1) x1 = part[1] + 0; if (part[2] + 0 < y0) y0 = part[2] + 0; if (part[2] + 0 > y1) y1 = part[2] + 0 }
        fill = size / ((x1 - x0 + 1) * (y1 - y0 + 1))
        if (fill < .75 || x1 - x0 < 1 || y1 - y0 < 1) continue
        sum = square = across = 0
        for (xy in piece) { sum += L[p SUBSEP xy]; square += L[p SUBSEP xy]^2; across += chroma[p SUBSEP xy] }
        even = square / size - (sum / size)^2
        even = even > 0 ? sqrt(even) : 0
        # Does it end in an edge, two cells out?
        rings = edge = 0
        for (u = x0 - 2; u <= x1 + 2; u++) for (v = y0 - 2; v <= y1 + 2; v++) {
            if (u != x0 - 2 && u != x1 + 2 && v != y0 - 2 && v != y1 + 2) continue
            if (!((p, u, v) in L)) continue
            rings++
            if (far(p, int((x0 + x1) / 2), int((y0 + y1) / 2), p, u, v) > 6) edge++
        }
        border = (x0 == 0) + (x1 == 23) + (y0 == 0) + (y1 == 31)
        if (border > 1 || rings == 0) continue
        sure = .9 * (fill > .95 ? 1 : fill) * (1 - even / 4) * (.3 + .7 * edge / rings) * (border ? .6 : 1)
        sure *= (sum / size > 30 && sum / size < 80) ? 1 : .6
        sure *= across / size < 10 ? 1 : .8
        sure *= size >= 12 ? 1 : .8
        # A card is in one picture and gone from the next; a backdrop stays.
        for (q = 1; q <= pictures; q++) {
            if (q == p || group_no[picture[q]] != group_no[picture[p]]) continue
            apart = far(p, int((x0 + x1) / 2), int((y0 + y1) / 2), q, int((x0 + x1) / 2), int((y0 + y1) / 2)) > 6 ? 1 : 0
            sure = apart ? 1 - (1 - sure) * .6 : sure * .8
        }
        if (sure > best) {
            best = sure; card_L = sum / size; card_chroma = across / size; card_even = even
            card_x0 = x0; card_x1 = x1; card_y0 = y0; card_y1 = y1
        }
    }
    return best
}
function near(p, x, y, u, v) {
    if (((u, v) in piece) || !calm(p, u, v) || far(p, x, y, p, u, v) > 3) return
    piece[u, v]; found++; next_u[found] = u; next_v[found] = v
}

function sureness(how) { return how > .8 ? "very sure" : how > .6 ? "fairly sure" : "not sure, look at it" }

function fill_row(columns_file, cells,  line, head, m, i, out) { # cells by column name
    getline line < columns_file; close(columns_file)
    m = split(line, head, "\t")
    out = ""
    for (i = 1; i <= m; i++) out = out (i > 1 ? "\t" : "") (head[i] in cells ? cells[head[i]] : "-")
    return out
}

function card_stage(  line, part, i, g, k, sure, text, cells) {
    while ((getline line < (work "/groups")) > 0) {
        split(line, part, "\t")
        m++
        g_of[m] = part[1]; session_of[m] = part[2]; frame[m] = part[3]; subject[m] = part[4]; camera[m] = part[5]; card[m] = part[6]
        shows[m] = part[7]; bad[m] = part[8]; clock[m] = part[9]; said[m] = part[10]
        group_no[frame[m]] = g_of[m]
        if (g_of[m] > gs) gs = g_of[m]
        if (card[m] == "?") fresh[g_of[m]]++
        count[g_of[m]]++
        if (!(g_of[m] in first)) first[g_of[m]] = m
        last[g_of[m]] = m
        if (!(camera[m] in camera_seen)) { camera_seen[camera[m]]; cameras++ }
        if (subject[m] != "-" && !(subject[m] in subject_seen)) { subject_seen[subject[m]]; subjects++ }
        if (subject[m] == "-" && card[m] == "?") nobody++
        if (camera[m] == "-" && card[m] == "?") no_camera++
        if (bad[m] == "unreadable") unreadable = unreadable (unreadable == "" ? "" : ", ") frame[m]
    }
    told = work "/told"; rows = work "/new.rows"; patches = work "/new.patches"
    printf "" > told; printf "" > rows; printf "" > patches
    printf "%s; %s of one camera, one setting and one session\n", plural(cameras, "camera"), plural(gs, "group") > told
    for (g = 1; g <= gs; g++) {
        if (!(g in fresh)) continue
        f = first[g]; l = last[g]
        printf "group %d: %s, %s%s%s\n", g, camera[f] == "-" ? "camera unknown" : "camera " camera[f], plural(count[g], "picture"), said[f], clock[f] == "-" ? "" : ", " substr(clock[f], 1, 16) " to " substr(clock[l], 12, 5) > told
        # A card that somebody named for pictures of this group serves the new ones too.
        chosen = ""; how = 0
        for (i = f; i <= l; i++) if (card[i] != "?" && card[i] != "-" && card[i] != "") chosen = card[i]
        for (i = f; i <= l && chosen == ""; i++) if (shows[i] + 0) { chosen = frame[i]; printf "  card: %s, by its row in patches.tsv\n", chosen > told }
        if (chosen == "") {
            for (i = f; i <= l; i++) {
                if (!(frame[i] in picture_number)) continue
                sure = find_card(picture_number[frame[i]])
                if (sure > how) { how = sure; at = i; keep_x0 = card_x0; keep_x1 = card_x1; keep_y0 = card_y0; keep_y1 = card_y1; keep_L = card_L; keep_c = card_chroma; keep_even = card_even }
            }
            if (how >= .4) {
                chosen = frame[at]
                split("", cells)
                cells["frame"] = chosen; cells["patch"] = "card"; cells["tone"] = "card"
                # Half a cell in from the edge of the piece, where the card's own edge may run.
                cells["x"] = sprintf("%.2f%%", (keep_x0 + .5) * 100 / 24); cells["y"] = sprintf("%.2f%%", (keep_y0 + .5) * 100 / 32)
                cells["w"] = sprintf("%.2f%%", (keep_x1 - keep_x0) * 100 / 24); cells["h"] = sprintf("%.2f%%", (keep_y1 - keep_y0) * 100 / 32)
                print fill_row(work "/patch.columns", cells) > patches
                printf "  card: %s at %s %s, %s by %s; L* %.1f, chroma %.1f; %s (%.0f %%)\n", chosen, cells["x"], cells["y"], cells["w"], cells["h"], keep_L, keep_c, sureness(how), 100 * how > told
            } else if ((session_of[f]) in card_of_session) {
                chosen = card_of_session[session_of[f]]
                printf "  card: none seen here; the one before on this camera, %s\n", chosen > told
            } else {
                printf "  card: none seen in its first pictures\n" > told
                without = without (without == "" ? "" : ", ") g
            }
        }
        if (chosen != "") card_of_session[session_of[f]] = chosen
        card_of[g] = chosen == "" ? "-" : chosen
    }
    for (i = 1; i <= m; i++) {
        if (card[i] != "?") continue
        split("", cells)
        cells["frame"] = frame[i]; cells["subject"] = subject[i]; cells["camera"] = camera[i]; cells["card"] = card_of[g_of[i]]; cells["approved"] = "-"
        print fill_row(work "/columns", cells) > rows
    }
    print "To look at before carn-job:" > told
    if (unreadable != "") print "- cannot be read: " unreadable > told
    if (no_camera) print "- job.tsv: " plural(no_camera, "picture") " of an unknown camera: write which, and its card" > told
    if (nobody) print "- job.tsv: " plural(nobody, "picture") " without a subject: write who it is, so that one person's pictures share a curve" > told
    if (subjects) printf "- job.tsv: %s%s, guessed by pauses: write who it is\n", plural(subjects, "subject"), (nobody ? " besides" : "") > told
    if (without != "") print "- job.tsv: no card for group " without ": name the picture that shows it, with a row of tone card in patches.tsv" > told
    else print "- patches.tsv: do the rows of tone card lie on the grey card?" > told
    getline line < (work "/skin")
    if (line + 0 == 0) print "- patches.tsv: no row of skin: carn-job finds it and shows where in report/contact.html (carn-job JOB audit, to look first); a row as '*<tab>cheek<tab>middle<tab>38%<tab>52%<tab>5%<tab>4%' wins" > told
}
