/* Names, escapes, base64 and tones: what tables and headers are read by. */
#include "base/match.h"
#include "base/text.h"
#include "base/tone.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

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
    test_tones();
    return tap_end();
}
