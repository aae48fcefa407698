/* What the core asks of a board. Each port (avr/, host/) defines these. */
#ifndef PORT_H
#define PORT_H

#include <stdbool.h>
#include <stdint.h>

/* Inputs that end a motion. All are held where nothing is connected: they are wired
 * normally closed, so that a cut wire stops. */
#define GUARD_STOP 1U
#define GUARD_LIMIT_LO 2U /* at the low end of the count */
#define GUARD_LIMIT_HI 4U
#define GUARD_STALL 8U

uint8_t port_guards(void); /* those that are held, fitted or not */

bool port_supply(void); /* the motor has its supply; means nothing if that is not sensed */

/* Microseconds since the start, modulo 2^32. */
uint32_t port_micros(void);

void port_energise(bool on);

/* The same, and where the motor is counted at that very time. */
uint32_t port_micros_at(int32_t *position);

/* Sets the direction, then motion.turning, when no step of an earlier motion can come
 * any more, and makes the first step after so many ticks; further ones as motion_step
 * says. Returns the microsecond in which the first step is due. */
uint32_t port_turn(bool up, uint32_t ticks);

/* Non-volatile memory by the byte; a write ends some time after it has begun, and one that
 * is cut spoils no other byte. Read and write only while it is ready. The core never writes
 * while the motor turns. PORTING.md has the way for memory that is erased by the page. */
#define EEPROM_BYTES 1024U
bool port_eeprom_ready(void);
uint8_t port_eeprom_read(uint16_t at);
void port_eeprom_write(uint16_t at, uint8_t byte);

/* The ring of bytes to be sent: a power of two of them. */
#define SEND_BYTES 128U
extern uint8_t port_send_ring[SEND_BYTES];
uint8_t port_send_at(void);        /* where the next byte goes */
uint8_t port_send_room(void);      /* how many fit */
void port_send_until(uint8_t end); /* what was put there goes out */

/* The shaft's encoder, 4096ths of a turn. */
enum encoder { ENCODER_NONE, ENCODER_OK, ENCODER_NO_MAGNET, ENCODER_SILENT };
enum encoder port_encoder(uint16_t *angle);

/* Received bytes lost because nobody took them in time. */
uint16_t port_overruns(void);

#endif
