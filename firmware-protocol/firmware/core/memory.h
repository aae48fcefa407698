/* What survives a reset (LINK.md, section 6), in a ring of entries with a checksum
 * each. The newest entry that can be read counts; a byte behind it says whether the
 * motor has turned since.
 *
 * Wear: a motion writes one byte beside the newest entry, and one entry elsewhere.
 * Each byte of the ring so is written at most twice in MEMORY_SLOTS motions: with the
 * 100,000 writes that the ATmega328P's data sheet names, in 2.1 million motions. */
#ifndef MEMORY_H
#define MEMORY_H

#include <stdbool.h>
#include <stdint.h>

enum trust { TRUST_UNKNOWN, TRUST_DOUBTFUL, TRUST_KEPT };

struct memory {
    uint16_t boot, epoch;
    uint16_t issued; /* the last number of a count that may have been given out */
    int32_t position, lo, hi;
    uint8_t trust;
};

#define MEMORY_SLOTS 42U
#define MEMORY_SLOT_BYTES 23U

/* Numbers that are given at most between two entries. */
#define MOST_GIVEN 16U

/* Reads the newest entry; false if there is none: then only boot count and issued are
 * set, to those of an earlier layout if there was one. */
bool memory_load(struct memory *, bool *turned);

/* Begins to write an entry, in the place of one that is not yet whole, and of a mark
 * that is not yet set. */
void memory_save(const struct memory *);
/* Marks the newest entry: the motor is about to turn. */
void memory_mark(void);
/* Returns a number for a new count, which was never given out before: the newest entry is
 * marked first, which takes 7 ms, so that a reset before the next entry is whole skips the
 * numbers that may have been given. The motor must stand. */
uint16_t memory_issue(struct memory *);
/* Drops what is not yet whole, where the mark stands. */
void memory_abandon(void);

/* Goes on with the writing; true where all is written. */
bool memory_written(void);

#endif
