/* Names, escapes, base64, columns and tones, as tables and headers have them. */
#include "base/match.h"
#include "base/table.h"
#include "base/text.h"
#include "base/tone.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void test_names(void)
{
    tap_ok(carn_table_serves("a.tif", "a.tif") == 3 && carn_table_serves("a", "a.tif") == 2 &&
               carn_table_serves("a.tif", "a") == 2 && carn_table_serves("a.tif", "a.jpg") == 2 &&
               carn_table_serves("a*", "a.tif") == 1 && carn_table_serves("b*", "a.tif") == 0,
           "the same name goes before the same without suffix, and that before a pattern");
    tap_ok(carn_table_serves(".one", ".two") == 0 && carn_table_serves(".one", ".one.tif") == 2,
           "a name that begins with a dot is not all suffix");
}

static void test_escapes(void)
{
    char text[] = "north%20one %25 %c3%a4 100% %zz";
    size_t size = carn_unescape(text);
    tap_ok(strcmp(text, "north one % \xc3\xa4 100% %zz") == 0 && size == strlen(text),
           "%%HH is one byte, any other %% is itself");
}

/* RFC 4648, section 10. */
static void test_base64(void)
{
    static const char *const plain[] = {"", "f", "fo", "foo", "foob", "fooba", "foobar"};
    static const char *const coded[] = {"",         "Zg==",     "Zm8=",    "Zm9v",
                                        "Zm9vYg==", "Zm9vYmE=", "Zm9vYmFy"};
    struct carn_error err = {0};
    bool out = true, back = true;
    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++) {
        size_t size = 0, want = strlen(plain[i]);
        char *text = carn_base64(plain[i], want, &err);
        void *bytes = carn_unbase64(coded[i], &size, &err);
        out = out && text != NULL && strcmp(text, coded[i]) == 0;
        back = back && bytes != NULL && size == want && memcmp(bytes, plain[i], want) == 0;
        free(text);
        free(bytes);
    }
    tap_ok(out && back, "base64 as RFC 4648 prints it, both ways");
    size_t size;
    tap_ok(carn_unbase64("Zm9vY", &size, &err) == NULL && err.kind == CARN_INPUT,
           "a lone last digit is broken");
}

/* A table of so many columns, in a file that goes away; NULL when it is refused. */
static struct carn_table *table_of(int columns, struct carn_error *err)
{
    char name[] = "/tmp/carn-base-XXXXXX";
    int fd = mkstemp(name);
    FILE *to = fd < 0 ? NULL : fdopen(fd, "w");
    for (int i = 0; to != NULL && i < columns; i++)
        fprintf(to, "c%d%c", i, i + 1 < columns ? '\t' : '\n');
    struct carn_table *table = to != NULL && fclose(to) == 0 ? carn_table_read(name, err) : NULL;
    (void)unlink(name);
    return table;
}

static void test_columns(void)
{
    struct carn_error err = {0};
    struct carn_table *most = table_of(4096, &err), *more = table_of(4097, &err);
    tap_ok(most != NULL && more == NULL && strstr(err.text, "4096") != NULL,
           "a table has 4096 columns at most (%s)", err.text);
    carn_table_close(most);
}

static void test_tones(void)
{
    tap_ok(carn_tone_of_face("shade") == CARN_TONE_SHADE &&
               carn_tone_of_face("card") == CARN_UNTONED && carn_tone_of_face("-") == CARN_UNTONED,
           "a face has light, middle and shade, and a card none of these");
}

int main(void)
{
    test_names();
    test_escapes();
    test_base64();
    test_columns();
    test_tones();
    return tap_end();
}
