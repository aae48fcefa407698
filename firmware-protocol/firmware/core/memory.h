/* What survives a reset (LINK.md, section 6), in a ring of entries with a checksum
 * each. The newest entry that can be read counts; a byte behind it says whether the
 * motor has turned since.
 *
 * Wear: a motion writes one byte beside the newest entry, and one entry elsewhere.
 * Each byte of the ring so is written at most twice in MEMORY_SLOTS motions: with the
 * 100,000 writes that the ATmega328P's data sheet names, in 2.4 million motions. */
#ifndef MEMORY_H
#define MEMORY_H

#include <stdbool.h>
#include <stdint.h>

enum trust { TRUST_UNKNOWN, TRUST_DOUBTFUL, TRUST_KEPT };

struct memory {
    uint16_t boot, epoch;
    int32_t position, lo, hi;
    uint8_t trust;
};

#define MEMORY_SLOTS 48U

/* Reads the newest entry; false where there is none. */
bool memory_load(struct memory *, bool *turned);

/* Begins to write an entry, in the place of one that is not yet whole, and of a mark
 * that is not yet set. */
void memory_save(const struct memory *);
/* Marks the newest entry: the motor is about to turn. */
void memory_mark(void);
/* Drops what is not yet whole, where the mark stands. */
void memory_abandon(void);

/* Goes on with the writing; true where all is written. */
bool memory_written(void);

#endif
