/* The face detector's network against the published file, run by tests/detector/reference.py; and
 * files that are refused.
 */
#include "skin/network.h"
#include "base/io.h"
#include "base/table.h"
#include "tap.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { PICTURES = 20, OUTPUTS = 1 + CARN_REGRESSORS };
static const double NEAR = 1e-3;
static const char WEIGHTS[] = "lib/data/face-detector.net";

static uint32_t state;

static int chance(int below)
{
    state = state * 1664525U + 1013904223U;
    return (int)(state >> 16) % below;
}

/* Random ellipses, the same as in tests/detector/reference.py. */
static void make_picture(int number, float *picture)
{
    enum { SIDE = CARN_LOOK_SIDE };
    static int p[SIDE * SIDE * 3];
    state = (uint32_t)number + 1;
    int grey = chance(256);
    for (int i = 0; i < SIDE * SIDE * 3; i++)
        p[i] = grey;
    for (int i = 0; i < 16; i++) {
        int cx = chance(SIDE), cy = chance(SIDE), rx = 3 + chance(40), ry = 3 + chance(40);
        int colour[3];
        for (int c = 0; c < 3; c++)
            colour[c] = chance(256);
        for (int y = 0; y < SIDE; y++)
            for (int x = 0; x < SIDE; x++) {
                int u = (x - cx) * ry, v = (y - cy) * rx;
                if (u * u + v * v <= rx * ry * rx * ry)
                    memcpy(p + (y * SIDE + x) * 3, colour, sizeof colour);
            }
    }
    for (int i = 0; i < SIDE * SIDE * 3; i++)
        picture[i] = (float)p[i] / 127.5F - 1;
}

/* The largest difference over the rows of a picture, and their number in *rows; -1: a bad cell. */
static double compare(const struct carn_table *table, int number, const struct carn_look *look,
                      int *rows, struct carn_error *err)
{
    double worst = 0, picture, anchor, value;
    for (size_t row = 0; row < carn_table_rows(table); row++) {
        if (carn_table_number(table, row, 0, &picture, err) != 1 ||
            carn_table_number(table, row, 1, &anchor, err) != 1)
            return -1;
        if ((int)picture != number)
            continue;
        int a = (int)anchor;
        for (int i = 0; i < OUTPUTS; i++) {
            double ours = (double)(i == 0 ? look->logit[a] : look->regressor[a][i - 1]);
            if (carn_table_number(table, row, 2 + i, &value, err) != 1)
                return -1;
            worst = fmax(worst, fabs(value - ours));
        }
        ++*rows;
    }
    return worst;
}

static void test_reference(struct carn_network *network)
{
    static float picture[CARN_LOOK_SIDE * CARN_LOOK_SIDE * 3];
    static struct carn_look look;
    struct carn_error err = {0};
    struct carn_table *table = carn_table_read("tests/data/face_detector_reference.tsv", &err);
    double worst = 0;
    int rows = 0;
    for (int i = 0; table != NULL && i < PICTURES; i++) {
        make_picture(i, picture);
        carn_network_look(network, picture, &look);
        worst = fmax(worst, compare(table, i, &look, &rows, &err));
    }
    carn_table_close(table);
    tap_ok(err.kind == CARN_NONE && rows == 240 && worst <= NEAR,
           "%d rows of outputs of %d pictures equal the published network's within %g (%.6f) %s",
           rows, PICTURES, NEAR, worst, err.text);
}

/* Writes size bytes to a file and says whether it was refused with a message. */
static bool refused(const uint8_t *bytes, size_t size)
{
    char path[] = "/tmp/carn-network-XXXXXX";
    int fd = mkstemp(path);
    FILE *file = fd >= 0 ? fdopen(fd, "wb") : NULL;
    struct carn_error err = {0};
    if (file == NULL)
        return false;
    bool written = fwrite(bytes, 1, size, file) == size;
    written = fclose(file) == 0 && written;
    struct carn_network *network = carn_network_open(path, &err);
    remove(path);
    carn_network_close(network);
    return written && network == NULL && strstr(err.text, "not the face detector") != NULL;
}

static void test_files(void)
{
    struct carn_error err = {0};
    size_t size = 0;
    uint8_t *bytes = carn_read_file(WEIGHTS, 1 << 20, &size, &err);
    tap_ok(bytes != NULL, "the weights are there %s", err.text);
    if (bytes == NULL)
        return;
    tap_ok(refused(bytes, size - 1), "a file cut by a byte is refused");
    tap_ok(refused(bytes, 30), "a file cut in its header is refused");
    tap_ok(refused(bytes, 0), "an empty file is refused");
    bytes[30]++;
    tap_ok(refused(bytes, size), "a header with another number is refused");
    free(bytes);
    tap_ok(carn_network_open("tests/none.net", &err) == NULL && err.kind != CARN_NONE,
           "a file that is not there is refused: %s", err.text);
}

int main(void)
{
    struct carn_error err = {0};
    struct carn_network *network = carn_network_open(WEIGHTS, &err);
    if (tap_ok(network != NULL, "the weights are read %s", err.text))
        test_reference(network);
    carn_network_close(network);
    test_files();
    return tap_end();
}
