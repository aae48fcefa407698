/* What the jig was told about its own make (LINK.md, section 3, settings). It stands
 * twice in non-volatile memory behind the ring of memory.h, each with layout version,
 * number and checksum: the newer one counts, the older one is written over, so that a
 * write that is cut leaves what was there before. */
#ifndef SETTINGS_H
#define SETTINGS_H

#include <stdbool.h>
#include <stdint.h>

/* Bits of fitted. The first five are the features of the greeting. */
#define FITTED_STOP 1U
#define FITTED_LIMITS 2U
#define FITTED_STALL 4U
#define FITTED_ENCODER 8U
#define FITTED_SUPPLY 16U
#define FITTED_ENCODER_BACK 32U /* its angle falls while the count grows */
#define FITTED_ALL 63U

#define SETTINGS_BODY 12U /* bytes on the link and in memory */

struct settings {
    uint32_t identity; /* 0: nothing was ever stored */
    uint8_t fitted;
    uint8_t reversed; /* 1: the motor turns the other way */
    uint16_t microsteps; /* per full step, as the driver's straps have them */
    uint16_t speed; /* greatest; 0 for what the image allows */
    uint16_t current; /* milliamperes, as the driver is set */
};

void settings_get(struct settings *, const uint8_t *body);
void settings_copy(uint8_t *to, const uint8_t *body);

/* Reads what is stored; false if there is none. */
bool settings_load(uint8_t *body);
/* Begins to write. */
void settings_save(const uint8_t *body);
/* Goes on with the writing, while nothing else is written; true when all is. */
bool settings_written(void);

#endif
