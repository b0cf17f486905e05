/* What a new job folder guesses: times, cameras, groups, subjects, and the card of a group. */
#define _XOPEN_SOURCE 700
#include "tap.h"

#include "job/guess.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static struct carn_table *table_of(const char *text)
{
    char name[] = "/tmp/carn-guess-XXXXXX";
    struct carn_error err = {0};
    int fd = mkstemp(name);
    if (fd < 0 || write(fd, text, strlen(text)) != (ssize_t)strlen(text))
        abort();
    (void)close(fd);
    struct carn_table *table = carn_table_read(name, &err);
    (void)unlink(name);
    return table;
}

static void times(void)
{
    double a = carn_guess_seconds("2024-02-28T23:59:30"),
           b = carn_guess_seconds("2024-02-29T00:00:00.5");
    double c = carn_guess_seconds("2024-03-01T00:00:00");
    tap_ok(b - a == 30.5 && c - b == 86399.5, "a leap day has its seconds");
    tap_ok(isnan(carn_guess_seconds("-")) && isnan(carn_guess_seconds("2024-13-01T00:00:00")),
           "no time is none");
}

#define FACTS                                                                                      \
    "frame\twidth\ttime\tmake\tmodel\tserial\tiso\tshutter\taperture\tflash\twhite_balance\n"

static void groups(void)
{
    struct carn_table *facts = table_of(
        FACTS
        "n1.tif\t60\t2026-11-25T19:00:00\tInvented\tInvented One\t7\t200\t1/125\t5.6\tfired\tauto\n"
        "n2.tif\t60\t2026-11-25T19:01:00\tInvented\tInvented One\t7\t200\t1/125\t5.6\tfired\tauto\n"
        "n3.tif\t60\t2026-11-25T19:05:00\tInvented\tInvented One\t7\t800\t1/125\t5.6\tfired\tauto\n"
        "n4.tif\t60\t2026-11-25T20:00:00\tInvented\tInvented One\t7\t800\t1/125\t5.6\tfired\tauto\n"
        "s1.tif\t60\t2026-11-25T19:00:30\tInvented\tTwo\t-\t200\t-\t-\t-\t-\n"
        "x.tif\t-\t-\t-\t-\t-\t-\t-\t-\t-\t-\n");
    struct carn_table *jobs = table_of("frame\tsubject\tcamera\tcard\tapproved\nn1.tif\taino\t"
                                       "north\tn1.tif\t-\n");
    struct carn_table *patches =
        table_of("frame\tpatch\ttone\tx\ty\tw\th\ns1.tif\tcard\tcard\t1\t1\t"
                 "2\t2\n");
    struct carn_table *parents = table_of("frame\tfolder\nx.tif\televen\nn1.tif\ttwelve\n");
    struct carn_guess_from from = {facts, jobs, patches, parents, 30, 90, 1};
    struct carn_guess g;
    struct carn_error err = {0};
    int rc = carn_guess_make(&from, &g, &err);
    const struct carn_guess_picture *p = g.pictures;
    tap_ok(rc == 0 && strcmp(p[0].camera, "north") == 0 && !p[0].fresh && p[1].fresh,
           "a row that stands is kept");
    tap_ok(strcmp(p[1].camera, "Invented One") == 0 && strcmp(p[4].camera, "Invented Two") == 0 &&
               strcmp(p[5].camera, "eleven") == 0,
           "cameras are make and model, or the folder");
    tap_ok(strcmp(p[1].subject, "aino") == 0 && strcmp(p[4].subject, "aino") == 0 &&
               strcmp(p[2].subject, "subject-02") == 0 && strcmp(p[5].subject, "-") == 0 &&
               g.subjects == 3,
           "a pause of all cameras parts subjects; a name serves the new ones");
    tap_ok(p[1].group != p[2].group && p[2].session == p[1].session &&
               p[3].session != p[2].session && g.groups == 6,
           "settings part groups, a long gap parts sessions");
    tap_ok(!p[0].look && p[1].look && !p[5].look && p[4].has_card_row,
           "looked at is the first of each group that can be read");
    carn_guess_close(&g);
    carn_table_close(facts);
    carn_table_close(jobs);
    carn_table_close(patches);
    carn_table_close(parents);
}

static void cards(void)
{
    struct carn_guess_picture pictures[3] = {{.frame = "a"}, {.frame = "b"}, {.frame = "c"}};
    size_t order[] = {0, 1, 2};
    struct carn_guess g = {3, 1, 0, pictures, order};
    bool room;
    for (int i = 0; i < 3; i++)
        pictures[i].look = true;
    tap_ok(carn_guess_card_of(&g, 0, &room) == SIZE_MAX && !room, "nothing seen is no card");
    pictures[0].seen = (struct carn_guess_card){true, 40, 80, 20, 10, 50, 3, 0.95};
    pictures[1].seen = (struct carn_guess_card){true, 50, 70, 20, 10, 50, 3, 0.99};
    tap_ok(carn_guess_card_of(&g, 0, &room) == 1 && !room, "the surest counts");
    pictures[0].seen = pictures[1].seen;
    tap_ok(carn_guess_card_of(&g, 0, &room) != SIZE_MAX && !room, "gone from one of three: a card");
    pictures[2].seen = pictures[1].seen;
    pictures[2].seen.x += 1.5;
    pictures[2].seen.L += 3;
    tap_ok(carn_guess_card_of(&g, 0, &room) == SIZE_MAX && room, "in all at one place: the room");
    pictures[2].seen.x += 1;
    tap_ok(carn_guess_card_of(&g, 0, &room) != SIZE_MAX && !room, "moved by over 2 %%: a card");
    pictures[2].seen.x -= 1;
    pictures[2].seen.L += 2;
    tap_ok(carn_guess_card_of(&g, 0, &room) != SIZE_MAX && !room, "lighter by over 4: a card");
    pictures[2].look = pictures[1].look = false;
    tap_ok(carn_guess_card_of(&g, 0, &room) == 0 && !room,
           "of one picture there is nothing to compare");
}

int main(void)
{
    times();
    groups();
    cards();
    return tap_end();
}
