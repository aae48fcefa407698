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
    uint8_t held = GUARD_INPUTS & GUARDS_WIRED;
    if (held != 0 && !motion_may_step(held)) {
        TIMSK1 = 0;
        return;
    }
    if (!motion.turning) {
        TIMSK1 = 0;
        return;
    }
    if (waits != 0) {
        OCR1A += hop(waits);
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

void port_turn(bool up, uint32_t ticks) {
    if (up) {
        PORTD |= 1 << PIN_DIR;
    } else {
        PORTD &= (uint8_t) ~(1 << PIN_DIR);
    }
    OCR1A = TCNT1 + hop(ticks);
    TIFR1 = 1 << OCF1A;
    TIMSK1 = 1 << OCIE1A;
}

void port_lock(void) {
    cli();
}

void port_unlock(void) {
    sei();
}

/* Needs to be called more often than the timer goes round, each 32 ms. */
uint32_t port_micros(void) {
    static uint32_t ticks;
    static uint16_t last;
    uint8_t before = SREG;
    cli();
    uint16_t now = TCNT1;
    SREG = before;
    ticks += (uint16_t)(now - last);
    last = now;
    return ticks / 2;
}
