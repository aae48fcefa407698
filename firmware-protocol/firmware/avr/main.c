#include "../core/jig.h"
#include "../core/port.h"
#include "board.h"
#include "clock.h"
#include "encoder.h"
#include "serial.h"
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

/* Why the chip started. Many boot loaders clear this before they go on. */
static uint8_t reset_flags __attribute__((section(".noinit")));

/* After a watchdog reset the watchdog goes on, at its shortest time. */
void look_at_reset(void) __attribute__((naked, used, section(".init3")));
void look_at_reset(void) {
    reset_flags = MCUSR;
    MCUSR = 0;
    wdt_disable();
}

static enum cause cause_of(uint8_t flags) {
    if ((flags & (1 << PORF)) != 0) {
        return CAUSE_POWER;
    }
    if ((flags & (1 << BORF)) != 0) {
        return CAUSE_BROWN_OUT;
    }
    if ((flags & (1 << WDRF)) != 0) {
        return CAUSE_WATCHDOG;
    }
    return (flags & (1 << EXTRF)) != 0 ? CAUSE_EXTERNAL : CAUSE_UNKNOWN;
}

uint8_t port_guards(void) {
    return GUARD_INPUTS & GUARD_PINS;
}

bool port_supply(void) {
    return (PIND & (1 << PIN_SUPPLY)) != 0;
}

void port_energise(bool on) {
    if (on) {
        PORTB &= (uint8_t) ~(1 << PIN_ENABLE);
    } else {
        PORTB |= 1 << PIN_ENABLE;
    }
}

bool port_eeprom_ready(void) {
    return eeprom_is_ready();
}

uint8_t port_eeprom_read(uint16_t at) {
    EEAR = at;
    EECR |= 1 << EERE;
    return EEDR;
}

void port_eeprom_write(uint16_t at, uint8_t byte) {
    EEAR = at;
    EEDR = byte;
    cli(); /* EEPE counts only within four cycles of EEMPE */
    EECR |= 1 << EEMPE;
    EECR |= 1 << EEPE;
    sei();
}

static void pins(void) {
    PORTB |= 1 << PIN_ENABLE; /* off, before it is an output */
    DDRB |= 1 << PIN_ENABLE;
    GUARD_PORT = GUARD_PINS;
    DDRD = 1 << PIN_STEP | 1 << PIN_DIR;
}

/* Wakes the program a thousand times a second. */
ISR(TIMER0_COMPA_vect) {
}

static void tick_start(void) {
    TCCR0A = 1 << WGM01;
    OCR0A = 249; /* 16 MHz / 64 / 250 */
    TCCR0B = 1 << CS01 | 1 << CS00;
    TIMSK0 = 1 << OCIE0A;
}

/* Sleeps until the next interrupt, unless something has come meanwhile. */
static void rest(void) {
    cli();
    if (serial_waits()) {
        sei();
        return;
    }
    sleep_enable();
    sei(); /* takes effect after the next instruction */
    sleep_cpu();
    sleep_disable();
}

int main(void) {
    pins();
    clock_start();
    tick_start();
    encoder_start();
    jig_start(cause_of(reset_flags));
    serial_start();
    wdt_enable(WDTO_120MS);
    sei();
    for (;;) {
        uint8_t byte;
        wdt_reset();
        while (serial_take(&byte)) {
            jig_hear(byte);
        }
        jig_run();
        encoder_run();
        rest();
    }
}
