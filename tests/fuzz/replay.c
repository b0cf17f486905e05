/* Runs a target on files, without libFuzzer. usage: replay TARGET FILE... */
#include "fuzz.h"

#include "base/error.h"
#include "base/io.h"

#include <stdio.h>
#include <stdlib.h>

size_t LLVMFuzzerMutate(uint8_t *data, size_t size, size_t room)
{
    (void)data;
    (void)room;
    return size;
}

int main(int argc, char **argv)
{
    const struct fuzz_target *target = fuzz_find(argc > 1 ? argv[1] : NULL);
    struct carn_error err = {0};
    for (int i = 2; i < argc; i++) {
        size_t size = 0;
        uint8_t *data = carn_read_file(argv[i], 1 << 24, &size, &err);
        if (data == NULL) {
            fprintf(stderr, "replay: %s: %s\n", argv[i], err.text);
            return 2;
        }
        target->run(data, size);
        if (target->mutate != NULL) { /* its own code, on a copy with room to grow */
            size_t room = size + 4096;
            uint8_t *copy = carn_grow(data, room, 1, &err);
            for (unsigned seed = 0; copy != NULL && seed < 64; seed++) {
                size = target->mutate(copy, size, room, seed);
                target->run(copy, size);
            }
            data = copy;
        }
        free(data);
    }
    return 0;
}
