/* A note in data memory that a reset leaves alone, if neither the supply went nor a
 * boot loader wrote there. It carries a checksum, so that garbage is not believed. */
#ifndef NOINIT_H
#define NOINIT_H

#include <stdbool.h>
#include <stdint.h>

/* Notes the start that the jig is in, and the way that the motor is about to take; from
 * a place to itself where it stands. */
void noinit_note(uint16_t boot, int32_t from, int32_t to);
/* Whether the note is of that start. */
bool noinit_of(uint16_t boot);
/* Whether the motor stood where it was counted, though its memory may not say so yet. */
bool noinit_stood(uint16_t boot, int32_t counted);
/* Where the motor may stand after a reset on its way: where it was counted, if the
 * note is of that start and it lies on the way, or else where it was last kept. */
int32_t noinit_guess(uint16_t boot, int32_t kept, int32_t counted);

#endif
