#include "job/tell.h"

#include <string.h>

void carn_tell_step(FILE *to, const char *word, const char *id, bool same)
{
    fprintf(to, "%s %s %s\n", word, id[0] != '\0' ? id : "-", same ? "same" : "made");
}

bool carn_tell_read(char *line, const char **word, const char **id, bool *same)
{
    static const char *const words[] = {"measured", "delivered", "read",
                                        "level",    "neutral",   "solve"};
    char *rest = NULL, *last;
    *word = strtok_r(line, " \n", &rest);
    *id = strtok_r(NULL, " \n", &rest);
    last = strtok_r(NULL, " \n", &rest);
    if (last == NULL || (strcmp(last, "same") != 0 && strcmp(last, "made") != 0))
        return false;
    *same = strcmp(last, "same") == 0;
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (strcmp(words[i], *word) == 0)
            return true;
    return false;
}
