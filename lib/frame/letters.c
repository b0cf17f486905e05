#include "frame/letters.h"

#include "base/io.h"

#include <stdlib.h>
#include <string.h>

enum { MOST_BYTES = 1 << 20, LINE = 5 + 2 * CARN_LETTER_HEIGHT, UNKNOWN = 0xFFFD };

struct letter {
    unsigned code;
    uint8_t rows[CARN_LETTER_HEIGHT];
};

struct carn_letters {
    size_t count;
    struct letter *letters; /* by rising code */
};

static int digits(const char *text, int count, unsigned *value)
{
    *value = 0;
    for (int i = 0; i < count; i++) {
        const char *at = strchr("0123456789ABCDEF", text[i]);
        if (at == NULL || text[i] == '\0')
            return -1;
        *value = *value * 16 + (unsigned)(at - "0123456789ABCDEF");
    }
    return 0;
}

static int read_letter(const char *line, struct letter *letter)
{
    unsigned row;
    if (digits(line, 4, &letter->code) != 0 || line[4] != ':')
        return -1;
    for (size_t y = 0; y < CARN_LETTER_HEIGHT; y++) {
        if (digits(line + 5 + 2 * y, 2, &row) != 0)
            return -1;
        letter->rows[y] = (uint8_t)row;
    }
    return 0;
}

struct carn_letters *carn_letters_open(const char *path, struct carn_error *err)
{
    size_t size = 0;
    char *bytes = carn_read_file(path, MOST_BYTES, &size, err);
    struct carn_letters *letters = bytes != NULL ? carn_alloc(1, sizeof *letters, err) : NULL;
    if (letters != NULL)
        letters->letters = carn_alloc(size / LINE + 1, sizeof *letters->letters, err);
    for (size_t at = 0; letters != NULL && err->kind == CARN_NONE && at < size; at += LINE + 1) {
        struct letter *letter = &letters->letters[letters->count];
        if (at + LINE >= size || bytes[at + LINE] != '\n' || read_letter(bytes + at, letter) != 0 ||
            (letters->count > 0 && letter->code <= letter[-1].code))
            carn_fail(err, CARN_INPUT, "%s: line %zu: no letter", path, letters->count + 1);
        else
            letters->count++;
    }
    free(bytes);
    if (err->kind == CARN_NONE)
        return letters;
    carn_letters_close(letters);
    return NULL;
}

void carn_letters_close(struct carn_letters *letters)
{
    if (letters == NULL)
        return;
    free(letters->letters);
    free(letters);
}

/* RFC 3629, as far as four hex digits go; what is longer is unknown all the same. */
static unsigned next_code(const char **text)
{
    const unsigned char *at = (const unsigned char *)*text;
    size_t more = at[0] < 0x80 ? 0 : at[0] < 0xC2 ? 0 : at[0] < 0xE0 ? 1 : at[0] < 0xF0 ? 2 : 3;
    unsigned code = at[0] < 0x80 ? at[0] : at[0] & (0x3Fu >> more);
    (*text)++;
    if (at[0] >= 0x80 && more == 0)
        return UNKNOWN;
    for (size_t i = 1; i <= more; i++) {
        if ((at[i] & 0xC0) != 0x80)
            return UNKNOWN;
        code = code << 6 | (at[i] & 0x3F);
        (*text)++;
    }
    return code;
}

static int by_code(const void *key, const void *letter)
{
    unsigned code = *(const unsigned *)key, own = ((const struct letter *)letter)->code;
    return code < own ? -1 : code > own;
}

const uint8_t *carn_letter(const struct carn_letters *letters, const char **text)
{
    static const uint8_t nothing[CARN_LETTER_HEIGHT] = {0};
    unsigned code = next_code(text), unknown = UNKNOWN;
    const struct letter *found =
        bsearch(&code, letters->letters, letters->count, sizeof *found, by_code);
    if (found == NULL)
        found = bsearch(&unknown, letters->letters, letters->count, sizeof *found, by_code);
    return found != NULL ? found->rows : nothing;
}

size_t carn_letters_count(const char *text)
{
    size_t count = 0;
    for (; *text != '\0'; count++)
        (void)next_code(&text);
    return count;
}
