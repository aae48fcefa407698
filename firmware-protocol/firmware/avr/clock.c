#include "clock.h"
#include "../core/motion.h"
#include "../core/port.h"
#include "board.h"
#include <avr/interrupt.h>

/* An interval longer than the timer's round is waited for in hops. */
#define HOP 0x8000U

static volatile uint32_t waits; /* ticks left beyond the compare that is set */

static uint16_t hop(uint32_t ticks) {
    uint16_t now = ticks > 2UL * HOP - 1 ? HOP : (uint16_t)ticks;
    waits = ticks - now;
    return now;
}

void clock_start(void) {
    TCCR1A = 0;
    TCCR1B = 1 << CS11; /* 16 MHz / 8 */
}

/* Looks, pulses, and only then computes when the next step is due. */
ISR(TIMER1_COMPA_vect) {
    if (waits != 0 && motion.turning) {
        OCR1A += hop(waits);
        return;
    }
    if (!motion_look(GUARD_INPUTS & GUARD_PINS)) {
        TIMSK1 = 0;
        return;
    }
    PIND = 1 << PIN_STEP; /* toggles it: high */
    uint32_t ticks = motion_step();
    PIND = 1 << PIN_STEP;
    if (ticks == 0) {
        TIMSK1 = 0;
        return;
    }
    OCR1A += hop(ticks);
}

/* Needs to be called more often than the timer goes round, each 32 ms. An odd tick, half
 * a microsecond, stays for the next call. */
static uint32_t micros(uint16_t now) {
    static uint32_t sum;
    static uint16_t counted; /* up to this time, in ticks */
    uint16_t half = (uint16_t)(now - counted) / 2U;
    counted += 2U * half;
    sum += half;
    return sum;
}

uint32_t port_turn(bool up, uint32_t ticks) {
    TIMSK1 = 0; /* what an earlier motion may have left */
    if (up) {
        PORTD |= 1 << PIN_DIR;
    } else {
        PORTD &= (uint8_t) ~(1 << PIN_DIR);
    }
    motion.turning = true;
    uint16_t first = hop(ticks);
    cli(); /* both halves of a register at once */
    uint16_t now = TCNT1;
    OCR1A = now + first;
    sei();
    TIFR1 = 1 << OCF1A;
    TIMSK1 = 1 << OCIE1A;
    return micros(now) + ticks / 2;
}

uint32_t port_micros(void) {
    uint8_t before = SREG;
    cli();
    uint16_t now = TCNT1;
    SREG = before;
    return micros(now);
}

uint32_t port_micros_at(int32_t *position) {
    cli();
    int32_t at = motion.position;
    uint16_t now = TCNT1;
    sei();
    *position = at;
    return micros(now);
}
