#include "codec/xmp.h"

#include "base/md5.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

/* A piece of text that no zero ends. */
struct span {
    const char *at;
    size_t size;
};

/* What our own standard packet says before and after the name. */
static const char before_name[] =
    "<?xpacket begin=\"\xef\xbb\xbf\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
    "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n"
    "<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
    "<rdf:Description rdf:about=\"\" xmlns:xmpNote=\"http://ns.adobe.com/xmp/note/\" "
    "xmpNote:HasExtendedXMP=\"";
static const char after_name[] = "\"/>\n</rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"w\"?>";
static const char packet_end[] = "\n<?xpacket end=\"w\"?>";

/* The first what in text, or the last; at NULL when there is none. */
static struct span find(struct span text, const char *what, bool last)
{
    size_t size = strlen(what);
    struct span found = {NULL, size};
    for (const char *at = text.at; (size_t)(at - text.at) + size <= text.size; at++) {
        size_t left = text.size - size + 1 - (size_t)(at - text.at);
        at = memchr(at, what[0], left);
        if (at == NULL)
            break;
        if (memcmp(at, what, size) != 0)
            continue;
        found.at = at;
        if (!last)
            break;
    }
    return found;
}

/* From the first of an element's start to the last of its end, both included. */
static bool element(struct span text, const char *start, const char *end, struct span *found)
{
    struct span first = find(text, start, false);
    struct span last = find(text, end, true);
    if (first.at == NULL || last.at == NULL || last.at < first.at)
        return false;
    *found = (struct span){first.at, (size_t)(last.at - first.at) + last.size};
    return true;
}

int carn_xmp_split(const char *xmp, size_t size, char standard[600], const char **extended,
                   size_t *extended_size, char name[CARN_XMP_NAME + 1])
{
    struct span text = {xmp, size};
    struct span inner;
    unsigned char sum[16];
    if (!element(text, "<x:xmpmeta", "</x:xmpmeta>", &inner) &&
        !element(text, "<rdf:RDF", "</rdf:RDF>", &inner))
        return -1;
    carn_md5(inner.at, inner.size, sum);
    for (size_t i = 0; i < sizeof sum; i++)
        snprintf(name + 2 * i, 3, "%02X", sum[i]);
    snprintf(standard, 600, "%s%s%s", before_name, name, after_name);
    *extended = inner.at;
    *extended_size = inner.size;
    return 0;
}

/* The content of rdf:RDF, where no element around it declares a prefix that the content needs. */
static bool descriptions(struct span text, struct span *found)
{
    struct span rdf;
    if (!element(text, "<rdf:RDF", "</rdf:RDF>", &rdf))
        return false;
    const char *start = memchr(rdf.at, '>', rdf.size);
    struct span head = {text.at, (size_t)(start - text.at)};
    for (struct span at = head;; at.size = head.size - (size_t)(at.at - head.at)) {
        struct span prefix = find(at, "xmlns:", false);
        if (prefix.at == NULL)
            break;
        at.at = prefix.at + prefix.size;
        if (strncmp(at.at, "rdf=", 4) != 0 && strncmp(at.at, "x=", 2) != 0)
            return false;
    }
    const char *end = rdf.at + rdf.size - strlen("</rdf:RDF>");
    if (end < start + 1)
        return false;
    *found = (struct span){start + 1, (size_t)(end - start) - 1};
    return true;
}

static char *put(char *to, const char *from, size_t size)
{
    memcpy(to, from, size);
    return to + size;
}

/* A standard packet of our own only names the extended one, so the result is the extended one
 * alone. */
static char *unwrap(struct span extended, size_t *joined, struct carn_error *err)
{
    size_t head = (size_t)(strchr(before_name, '\n') - before_name) + 1;
    char *whole = carn_alloc(head + extended.size + sizeof packet_end, 1, err);
    if (whole == NULL)
        return NULL;
    char *to = put(put(whole, before_name, head), extended.at, extended.size);
    *joined = (size_t)(put(to, packet_end, sizeof packet_end - 1) - whole);
    return whole;
}

char *carn_xmp_join(const char *standard, size_t size, const char *extended, size_t extended_size,
                    const char name[CARN_XMP_NAME], size_t *joined, struct carn_error *err)
{
    static const char *const quotes[] = {"xmpNote:HasExtendedXMP=\"", "xmpNote:HasExtendedXMP='",
                                         "<xmpNote:HasExtendedXMP>"};
    struct span main = {standard, size};
    struct span more = {extended, extended_size};
    struct span note = {NULL, 0};
    struct span inner;
    for (size_t i = 0; i < 3 && note.at == NULL; i++)
        note = find(main, quotes[i], false);
    if (note.at == NULL || (size_t)(standard + size - note.at) < note.size + CARN_XMP_NAME + 1 ||
        memcmp(note.at + note.size, name, CARN_XMP_NAME) != 0)
        return NULL;
    if (size > sizeof before_name && memcmp(standard, before_name, sizeof before_name - 1) == 0)
        return unwrap(more, joined, err);
    struct span end = find(main, "</rdf:RDF>", true);
    if (end.at == NULL || !descriptions(more, &inner))
        return NULL;
    char *whole = carn_alloc(size + inner.size, 1, err);
    if (whole == NULL)
        return NULL;
    size_t before = (size_t)(end.at - standard);
    char *to = put(put(whole, standard, before), inner.at, inner.size);
    *joined = (size_t)(put(to, end.at, size - before) - whole);
    /* It has no extended part any more. */
    static const char element_end[] = "</xmpNote:HasExtendedXMP>";
    size_t from = (size_t)(note.at - standard);
    size_t length = note.size + CARN_XMP_NAME;
    size_t rest = size - from - length;
    if (note.at[0] == 'x')
        length++; /* the closing quote */
    else if (rest >= sizeof element_end - 1 &&
             memcmp(note.at + length, element_end, sizeof element_end - 1) == 0)
        length += sizeof element_end - 1;
    else
        return whole;
    memset(whole + from, ' ', length);
    return whole;
}
