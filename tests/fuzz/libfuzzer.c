/* The targets for libFuzzer; $FUZZ names the one. */
#include "fuzz.h"

#include <stdlib.h>

int LLVMFuzzerInitialize(int *argc, char ***argv);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t room, unsigned seed);

static const struct fuzz_target *target;

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    (void)argc;
    (void)argv;
    target = fuzz_find(getenv("FUZZ"));
    return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    target->run(data, size);
    return 0;
}

size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t room, unsigned seed)
{
    return target->mutate != NULL ? target->mutate(data, size, room, seed)
                                  : LLVMFuzzerMutate(data, size, room);
}
