/* The pins of an ATmega328P board at 16 MHz. BUILD-A-JIG.md shows the wiring. */
#ifndef BOARD_H
#define BOARD_H

#include <avr/io.h>

/* Port C, pins 0 to 3: the inputs that end a motion, as the GUARD_ bits have them:
 * stop, limits at the low and at the high end, stall. They are normally closed to
 * ground, with the pull-up on, so that they read high when held, when a wire is cut and
 * when nothing is connected. Settings say which of them are fitted; the others are ignored. Pins 4 and 5 are the encoder's bus. */
#define GUARD_PORT PORTC
#define GUARD_INPUTS PINC

/* Port D */
#define PIN_SUPPLY PD5 /* senses the motor's supply by a divider: high while it is there */
#define PIN_STEP PD6
#define PIN_DIR PD7

#define PIN_ENABLE PB0 /* port B; low switches the driver on */

#define GUARD_PINS (GUARD_STOP | GUARD_LIMIT_LO | GUARD_LIMIT_HI | GUARD_STALL)
#endif
