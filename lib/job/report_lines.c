#include "job/report_own.h"

#include "job/json.h"
#include "job/record.h"

#include <stdarg.h>
#include <string.h>

void report_put(struct report *w, const char *format, ...)
{
    char line[4096];
    va_list args;
    va_start(args, format);
    vsnprintf(line, sizeof line, format, args);
    va_end(args);
    carn_show(w->text.to, line);
    fputc('\n', w->text.to);
}

void report_row(struct report *w, const char *part, const char *about, const char *what,
                const char *frames, const char *before, const char *after, const char *note)
{
    static const char *const names[] = {"part",   "about", "what", "frames",
                                        "before", "after", "note"};
    const char *const cells[] = {part, about, what, frames, before, after, note};
    fputs(w->rows++ > 0 ? ",\n  {" : "\n  {", w->json.to);
    for (size_t i = 0; i < 7; i++) {
        carn_table_print(w->table.to, cells[i]);
        fputc(i < 6 ? '\t' : '\n', w->table.to);
        fprintf(w->json.to, "%s\"%s\": ", i > 0 ? ", " : "", names[i]);
        if (i >= 3 && i <= 5) /* figures; a name may look like one */
            carn_json_cell(w->json.to, *cells[i] == '+' ? cells[i] + 1 : cells[i]);
        else
            carn_json_text(w->json.to, cells[i]);
    }
    fputc('}', w->json.to);
}

void report_person(struct report *w, bool single, const char *about, const char *what,
                   const char *format, ...)
{
    char note[2048];
    va_list args;
    va_start(args, format);
    vsnprintf(note, sizeof note, format, args);
    va_end(args);
    struct report_person *persons =
        carn_grow(w->persons, w->person_count + 1, sizeof *persons, w->err);
    if (persons == NULL)
        return;
    w->persons = persons;
    persons[w->person_count++] = (struct report_person){
        carn_copy(about, w->err), carn_copy(what, w->err), carn_copy(note, w->err), single};
}

const char *report_plural(char buffer[64], size_t n, const char *word)
{
    snprintf(buffer, 64, "%zu %s%s", n, word, n == 1 ? "" : "s");
    return buffer;
}

bool report_is_measured(const struct carn_story_frame *f)
{
    return f->failed == NULL && !f->card_only && f->shot.rows > 0;
}

const char *report_setting(const struct report *w, const char *key)
{
    return w->story->settings != NULL ? carn_record_get(w->story->settings, key) : "";
}
