#ifndef SERIAL_H
#define SERIAL_H

#include <stdbool.h>
#include <stdint.h>

void serial_start(void);
/* Takes the next byte that was received, if there is one. */
bool serial_take(uint8_t *byte);
bool serial_waits(void); /* there is one */

#endif
