/* The jig: what it answers on the link and what it does by itself. LINK.md is the
 * specification. */
#ifndef JIG_H
#define JIG_H

#include <stdint.h>

/* Causes of LINK.md, section 3. */
enum cause { CAUSE_UNKNOWN, CAUSE_POWER, CAUSE_EXTERNAL, CAUSE_WATCHDOG, CAUSE_BROWN_OUT };

/* Once, before all else. Returns when what it must remember is written. */
void jig_start(enum cause);
/* For each byte that was received. */
void jig_hear(uint8_t byte);
/* Over and over, at least once a millisecond: it looks at the inputs and the supply. */
void jig_run(void);

#endif
