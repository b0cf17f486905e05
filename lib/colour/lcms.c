/*
 * Memory for lcms2. lcms2 2.14 uses what it asked for without looking in many places, so a failed
 * allocation would end the process or, worse, leave a tag unread. Here it gets memory of a reserve
 * instead, and whoever called lcms2 says afterwards that there was none (carn_lcms_check).
 */
#include "colour/lcms.h"

#include <lcms2_plugin.h>
#include <stdlib.h>
#include <string.h>

/* What opening a press profile and a transform ask for is far less. Costs nothing until used. */
enum { RESERVE = 8 * 1024 * 1024, HEAD = 16 };

static _Alignas(16) unsigned char reserve[RESERVE];
static size_t used;
static bool short_of_memory;

/* A piece of the reserve, zeroed, its size before it. */
static void *take(size_t size)
{
    short_of_memory = true;
    if (size > RESERVE - HEAD - used || used > RESERVE - HEAD)
        return NULL;
    unsigned char *head = reserve + used;
    memcpy(head, &size, sizeof size);
    used += HEAD + (size + 15) / 16 * 16;
    if (used > RESERVE)
        used = RESERVE;
    return head + HEAD;
}

static bool is_taken(const void *p)
{
    const unsigned char *at = p;
    return at >= reserve && at < reserve + RESERVE;
}

static void *get(cmsContext context, cmsUInt32Number size)
{
    (void)context;
    void *p = malloc(size);
    if (p == NULL)
        p = take(size);
    return p;
}

static void give_back(cmsContext context, void *p)
{
    (void)context;
    if (!is_taken(p))
        free(p);
}

static void *resize(cmsContext context, void *old, cmsUInt32Number size)
{
    if (!is_taken(old)) {
        void *p = realloc(old, size);
        if (p != NULL)
            return p;
        if (old != NULL) /* its size is not known: nothing can be copied */
            return NULL;
    }
    size_t before = 0;
    if (old != NULL)
        memcpy(&before, (unsigned char *)old - HEAD, sizeof before);
    void *p = get(context, size);
    if (p != NULL && old != NULL)
        memcpy(p, old, before < size ? before : size);
    return p;
}

void carn_lcms_start(void)
{
    static bool started;
    static cmsPluginMemHandler handler = {.base = {.Magic = cmsPluginMagicNumber,
                                                   .ExpectedVersion = 2000,
                                                   .Type = cmsPluginMemHandlerSig},
                                          .MallocPtr = get,
                                          .FreePtr = give_back,
                                          .ReallocPtr = resize};
    if (!started)
        started = cmsPlugin(&handler);
}

int carn_lcms_check(struct carn_error *err)
{
    if (!short_of_memory)
        return 0;
    short_of_memory = false;
    *err = (struct carn_error){0}; /* whatever else came of it is a consequence */
    return carn_fail(err, CARN_MEMORY, "out of memory (in lcms2)");
}
