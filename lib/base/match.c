#include "base/match.h"

#include <fnmatch.h>
#include <string.h>

size_t carn_stem(const char *name)
{
    const char *dot = strrchr(name, '.');
    return dot != NULL && dot != name ? (size_t)(dot - name) : strlen(name);
}

int carn_table_serves(const char *cell, const char *name)
{
    if (strcmp(cell, name) == 0)
        return 3;
    char cell_stem[4096], name_stem[4096];
    if (strlen(cell) >= sizeof cell_stem || strlen(name) >= sizeof name_stem)
        return 0;
    strcpy(cell_stem, cell);
    strcpy(name_stem, name);
    cell_stem[carn_stem(cell_stem)] = '\0';
    name_stem[carn_stem(name_stem)] = '\0';
    if (strcmp(cell_stem, name) == 0 || strcmp(cell, name_stem) == 0 ||
        strcmp(cell_stem, name_stem) == 0)
        return 2;
    if (fnmatch(cell, name, 0) == 0 || fnmatch(cell, name_stem, 0) == 0 ||
        fnmatch(cell_stem, name_stem, 0) == 0)
        return 1;
    return 0;
}
