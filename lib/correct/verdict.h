/*
 * verdict: what is said of a reading, and of a frame by the worst of its readings.
 */
#ifndef CARN_VERDICT_H
#define CARN_VERDICT_H

/* A greater one is worse. Unjudged: light and shade of which the aim says nothing, beside a middle
 * tone; and what has not been scored. */
enum carn_verdict { CARN_UNJUDGED, CARN_ON, CARN_HELD, CARN_UNSURE, CARN_OFF, CARN_VERDICTS };

/* A person has to look at a held colour with more than this CIEDE2000 left to the aim. */
#define CARN_HELD_FAR 3.0

/* As tables have it: "-", on, held, unsure, off. */
const char *carn_verdict_word(enum carn_verdict verdict);

/* The verdict of a word; CARN_UNJUDGED for any other. */
enum carn_verdict carn_verdict_of(const char *word);

#endif
