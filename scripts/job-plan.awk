# The part of job-plan that reads job.tsv and patches.tsv. Input: the files in frames/, one a line.
# Writes under work/, for each frame: ID.labels, ID.patches (where to measure skin and backdrop),
# ID.cardpatches (if it shows a card others stand on), ID.origin (its size and time of change), ID.frame
# (what jobs scripts want to know); frames.tsv, links.new, plan.part.mk. -v format= -v curve=
# Where no row of skin serves a frame, job-find's proposal does, work/ID.sought; frames that lack one
# are listed in work/seek, and the status is then 3. -v confidence= -v version= ENVIRON["follow"]

function fail(text) { printf "carn-job: %s\n", text | "cat 1>&2"; close("cat 1>&2"); failed = 1; exit 2 }

# Writes text unless file holds it. A run killed here leaves a half file, which the next one finds to differ.
function keep(file, text,  old, line) {
    old = ""
    while ((getline line < file) > 0) old = old line "\n"
    close(file)
    if (old != text || old == "") { printf "%s", text > file; close(file) }
}

function read_table(file, want, kind,  line, got) {
    table_begin()
    while ((got = (getline line < file)) > 0) {
        if (table_row(line)) { if (kind == "job") take_frame(); else take_patch() }
        else if (table_columns > 0 && !checked[file]++) need(file, want)
    }
    close(file)
    if (!checked[file]) fail(file ": no header row, a table begins with its column names")
}
function need(file, want,  i, n, name) {
    n = split(want, name, " ")
    for (i = 1; i <= n; i++) if (!has(name[i])) fail(file ": no column '" name[i] "'")
}
function cell(column) { return column in row ? row[column] : "-" }

function take_frame(  name) {
    name = unescape(row["frame"])
    if (row["frame"] == "-") return
    if (name in number_of) { printf "job.tsv: %s stands twice, the first row counts\n", row["frame"] > "work/plan.notes"; return }
    frames++
    number_of[name] = frames
    name_of[frames] = name; cell_of[frames] = row["frame"]
    subject[frames] = cell("subject"); camera[frames] = cell("camera"); card[frames] = unescape(cell("card"))
    approved[frames] = cell("approved") ~ /^(-|no|No|NO|0)$/ ? 0 : 1
    own_curve[frames] = (cell("curve") == "-" ? curve : cell("curve")) == "frame" || subject[frames] == "-"
    if (!(stem(name) in number_of_stem)) number_of_stem[stem(name)] = frames
}

function take_patch(  name) {
    if (row["frame"] == "-" && row["patch"] == "-") return
    patches++
    name = unescape(row["frame"])
    is_card[patches] = cell("tone") == "card"
    pattern[patches] = name
    tail[patches] = row["patch"] "\t" cell("tone") "\t" row["x"] "\t" row["y"] "\t" row["w"] "\t" row["h"]
    by_cell[name] = by_cell[name] " " patches
    by_stem[stem(name)] = by_stem[stem(name)] " " patches
    if (name ~ /[*?[\\]/) { globs++; glob[globs] = patches; regex[patches] = to_regex(name); regex_stem[patches] = to_regex(stem(name)) }
}

# The rows of the best kind that serve a frame, as a patch table; "" when there is none.
function serving(name, id, cards,  text, list, part, n, i, k, s, seen) {
    s = stem(name)
    list = by_cell[name]
    text = rows(list, id, cards)
    if (text == "") text = rows(by_cell[s] " " by_stem[name] " " by_stem[s], id, cards)
    if (text == "") {
        list = ""
        for (i = 1; i <= globs; i++) {
            k = glob[i]
            if (name ~ regex[k] || s ~ regex[k] || s ~ regex_stem[k]) list = list " " k
        }
        text = rows(list, id, cards)
    }
    return text
}
function rows(list, id, cards,  part, n, i, text, order, m) {
    n = split(list, part, " ")
    m = 0
    split("", order_seen)
    for (i = 1; i <= n; i++)
        if (is_card[part[i]] == cards && !(part[i] in order_seen)) { order_seen[part[i]]; order[++m] = part[i] }
    sort_numbers(order, m)
    text = ""
    for (i = 1; i <= m; i++) text = text id "\t" tail[order[i]] "\n"
    return text
}

# Does a patch table hold more than card and backdrop?
function has_skin(text,  n, line, part, k) {
    n = split(text, line, "\n")
    for (k = 1; k < n; k++) { split(line[k], part, "\t"); if (part[3] != "card" && part[3] != "backdrop") return 1 }
    return 0
}

# What job-find proposed for frame i: its largest face, as rows of a patch table. Sets sure[i], the
# confidence, faces[i] and, when the picture could not be read, unread[i]; found[i] is 0 when it has
# not been looked for since the picture changed.
function proposal(i,  file, line, text, want, word) {
    file = "work/" id[i] ".sought"; text = ""
    want = "# " version " " origin[name_of[i]]
    found[i] = (getline line < file) > 0 && (line == want || index(line, want "\t") == 1)
    unread[i] = found[i] ? substr(line, length(want) + 2) : ""
    sure[i] = faces[i] = 0
    table_begin()
    while (found[i] && (getline line < file) > 0) {
        if (!table_row(line) || !match(row["patch"], /^face[0-9]+/)) continue
        word = substr(row["patch"], 5, RLENGTH - 4) + 0
        if (word > faces[i]) faces[i] = word
        if (word != 1) continue
        if (row["confidence"] > sure[i]) sure[i] = row["confidence"] + 0
        text = text id[i] "\t" row["patch"] "\t" row["tone"] "\t" row["x"] "\t" row["y"] "\t" row["w"] "\t" row["h"] "\n"
    }
    close(file)
    return text
}

function out_name(name,  s) {
    if (format == "same") return name
    s = stem(name) "." format
    return s
}
function escape(name,  out, i, c) {
    out = ""
    for (i = 1; i <= length(name); i++) {
        c = substr(name, i, 1)
        if (code[c] < 32 || code[c] == 127 || (c == "%" && substr(name, i + 1, 2) ~ /^[0-9A-Fa-f][0-9A-Fa-f]$/)) out = out sprintf("%%%02X", code[c])
        else out = out c
    }
    return out
}

# The frame that shows the card, by its row or its file; its id in card_id[i].
function find_card(i,  name) {
    name = card[i]
    if (name == "-") return "+none"
    if (!(name in number_of) && !(name in origin) && (name in number_of_stem)) name = name_of[number_of_stem[name]]
    if (!(name in card_seen)) {
        cards++
        card_seen[name] = cards
        card_name[cards] = name
    }
    return safe(name)
}

BEGIN { FS = "\t"; bytes_begin(); printf "" > "work/plan.notes" }
{
    at = index($0, "\t")
    name = substr($0, at + 1)
    gsub(/\001/, "\n", name)
    origin[name] = substr($0, 1, at - 1)
}
END {
    if (failed) exit 2
    read_table("job.tsv", "frame", "job")
    read_table("patches.tsv", "frame patch x y w h", "patches")
    if (frames == 0) fail("job.tsv: no row, so no picture to do; carn-job-new adds pictures")
    head = "frame\tpatch\ttone\tx\ty\tw\th\n"

    for (i = 1; i <= frames; i++) {
        id[i] = safe(name_of[i])
        if (id[i] in id_seen) fail("job.tsv: " cell_of[i] " and " cell_of[id_seen[id[i]]] " come to the same id")
        id_seen[id[i]] = i
        card_id[i] = find_card(i)
    }
    # A picture of the card alone is measured and not delivered.
    for (i = 1; i <= frames; i++) {
        patch_text[i] = serving(name_of[i], id[i], 0)
        grounds[i] = has_skin(patch_text[i]) ? "given" : "none"
        if (grounds[i] == "none" && name_of[i] in origin) {
            text = proposal(i)
            if (!found[i]) { seeking++; print id[i] "\t" origin[name_of[i]] "\t" cell_of[i] > "work/seek" }
            if (text != "") grounds[i] = sure[i] < confidence ? "unsure" : "found"
            patch_text[i] = patch_text[i] text
        }
        card_only[i] = grounds[i] == "none" && unread[i] == "" && (name_of[i] in card_seen)
    }
    if (seeking > 0) { close("work/seek"); failed = 1; exit 3 }

    # Whom each subject's pictures by other cameras follow: those by the followed one that were read.
    follow = ENVIRON["follow"]
    for (i = 1; i <= frames; i++) {
        cameras[camera[i]]
        if (camera[i] == follow && subject[i] != "-" && grounds[i] ~ /given|found/ && !card_only[i]) followed[subject[i]] = followed[subject[i]] " " id[i]
    }
    if (follow != "none" && !(follow in cameras)) fail("Makefile: FOLLOW = " follow ": no camera of job.tsv is called so")

    plan_frames = plan_cards = plan_groups = ""
    text = "id\tframe\tsubject\tcamera\tcard\tgroup\tapproved\tout\tgrounds\tconfidence\tfaces\tfollows\n"
    for (i = 1; i <= frames; i++) {
        if (card_only[i]) continue
        group = own_curve[i] ? safe("frame\t" name_of[i]) : safe(subject[i] "\t" camera[i] "\t" card[i])
        follows = follow != "none" && camera[i] != follow && subject[i] in followed ? follow : "-"
        if (follows != "-") leads[group] = followed[subject[i]]
        out = out_name(name_of[i])
        if (out in out_seen) out = name_of[i] "." (format == "same" ? "again" : format)
        out_seen[out]
        text = text id[i] "\t" cell_of[i] "\t" subject[i] "\t" camera[i] "\t" card_id[i] "\t" group "\t" approved[i] "\t" escape(out) "\t" grounds[i] "\t" (grounds[i] ~ /found|unsure/ ? sure[i] "\t" faces[i] : "-\t-") "\t" follows "\n"
        if (grounds[i] == "none") blind = blind " " id[i]
        plan_frames = plan_frames " " id[i]
        if (!(group in members)) plan_groups = plan_groups " " group
        members[group] = members[group] " " id[i]
        if (grounds[i] ~ /given|found/) sound[group] = sound[group] " " id[i]
        if (grounds[i] == "unsure") shaky[group] = shaky[group] " " id[i]
        keep("work/" id[i] ".labels", "frame\tsubject\tcamera\n" id[i] "\t" subject[i] "\t" camera[i] "\n")
        keep("work/" id[i] ".patches", head patch_text[i])
        keep("work/" id[i] ".origin", (name_of[i] in origin ? origin[name_of[i]] : "-") "\n")
        keep("work/" id[i] ".wiring", card_id[i] "\n" group "\n" escape(out) "\n" (grounds[i] ~ /unsure|none/ ? "borrows\n" : "") (follows != "-" ? "follows " follows "\n" : ""))
        keep("work/" id[i] ".frame", cell_of[i] "\n" escape(out) "\n" approved[i] "\n" card_id[i] "\n" group "\n" grounds[i] "\n" follows "\n")
        links = links "work/in/" id[i] "\t" cell_of[i] "\nwork/out/" id[i] "\t" escape(out) "\n"
        if (!approved[i] && exists("work/" id[i] ".frozen")) printf "work/%s.made\n", id[i] > "work/stale.part"
        why = ""
        if (!(name_of[i] in origin)) why = "frames/" cell_of[i] ": no such file"
        else if (unread[i] != "") why = unread[i]
        if (why != "") { printf "%s\n", why > ("work/" id[i] ".failed"); close("work/" id[i] ".failed") }
        if (why != "" || grounds[i] == "none")
            printf "work/%s.found\nwork/%s.readings\n", id[i], id[i] > "work/stale.part"
        if (grounds[i] == "none") printf "work/%s.before\nwork/%s.scored\nwork/%s.plain\n", id[i], id[i], id[i] > "work/stale.part"
        if (grounds[i] ~ /unsure|none/) rules = rules "work/" id[i] ".made: work/" group ".pooled\n"
        rules = rules "work/" id[i] ".readings work/" id[i] ".made: work/" card_id[i] ".neutral\n" \
            "work/" id[i] ".readings work/" id[i] ".plain: private CARD := " card_id[i] "\n" \
            "work/" id[i] ".made: work/" group ".curve\n"
    }
    keep("work/frames.tsv", text)

    text = "id\tcard\n"
    for (k = 1; k <= cards; k++) {
        name = card_name[k]
        rows_of_card = serving(name, safe(name), 1)
        text = text safe(name) "\t" escape(name) "\n"
        plan_cards = plan_cards " " safe(name)
        links = links (name in number_of && !card_only[number_of[name]] ? "" : "work/in/" safe(name) "\t" escape(name) "\n")
        keep("work/" safe(name) ".cardpatches", head rows_of_card)
        keep("work/" safe(name) ".origin", (name in origin ? origin[name] : "-") "\n")
        if (!(name in origin) || rows_of_card == "") {
            printf "%s\n", name in origin ? "patches.tsv: no row of tone card serves " escape(name) : "frames/" escape(name) ": no such file" > ("work/" safe(name) ".cardfailed")
            close("work/" safe(name) ".cardfailed")
            printf "work/%s.carded\nwork/%s.card\n", safe(name), safe(name) > "work/stale.part"
        }
    }
    keep("work/cards.tsv", text)
    for (name in origin) if (!(name in number_of) && !(name in card_seen)) {
        left++
        sample = escape(name)
    }
    if (left > 0)
        printf "frames/ holds %d picture%s without a row in job.tsv (%s)\n", left, left == 1 ? "" : "s", left == 1 ? sample : "carn-job-new adds them" > "work/plan.notes"
    close("work/plan.notes"); close("work/stale.part")
    while ((getline line < "work/stale.part") > 0) system("rm -f " line)
    close("work/stale.part")
    system("rm -f work/stale.part")

    printf "%s", links > "work/links.new"
    printf "FRAMES :=%s\nBLIND :=%s\nCARDS :=%s\nGROUPS :=%s\n%s", plan_frames, blind, plan_cards, plan_groups, rules > "work/plan.part.mk"
    n = split(plan_groups, part, " ")
    for (i = 1; i <= n; i++) {
        # The curve of a group comes from the readings that are sure, if there are any.
        pool = part[i] in sound ? sound[part[i]] : shaky[part[i]]
        k = split(pool, id_part, " ")
        text = ""
        for (j = 1; j <= k; j++) text = text " work/" id_part[j] ".readings"
        printf "work/%s.solved:%s\nwork/%s.solved: private MEMBERS :=%s\n", part[i], text, part[i], pool > "work/plan.part.mk"
        if (part[i] in leads) {
            k = split(leads[part[i]], id_part, " ")
            for (j = 1; j <= k; j++) printf "work/%s.solved: work/%s.$(PROOF)\n", part[i], id_part[j] > "work/plan.part.mk"
            printf "work/%s.solved: private FOLLOWED :=%s\n", part[i], leads[part[i]] > "work/plan.part.mk"
        }
        # Who belongs to the group counts as well, not only when they changed.
        keep("work/" part[i] ".members", pool "\n" leads[part[i]] "\n")
    }
}
