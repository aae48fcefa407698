/* The line: received bytes wait in one ring, those to be sent in another. */
#include "serial.h"
#include "../core/port.h"
#include <avr/interrupt.h>

#define HEARD_BYTES 32U

static uint8_t heard[HEARD_BYTES];
/* In registers that are for any use: the interrupt must be short. */
#define heard_in GPIOR0
#define heard_out GPIOR1
static volatile uint16_t overruns;

uint8_t port_send_ring[SEND_BYTES];
static volatile uint8_t send_in, send_out;

void serial_start(void) {
    UCSR0A = 1 << U2X0;
    UBRR0 = 16; /* 16 MHz / 8 / 17 = 117,647 baud: 2.1 % beside 115,200 */
    UCSR0C = 1 << UCSZ01 | 1 << UCSZ00;
    UCSR0B = 1 << RXCIE0 | 1 << RXEN0 | 1 << TXEN0;
}

/* A lost byte spoils the frame that it belongs to: the checksum sees to that. */
ISR(USART_RX_vect) {
    uint8_t wrong = UCSR0A & (1 << DOR0);
    uint8_t byte = UDR0;
    uint8_t in = heard_in;
    uint8_t next = (uint8_t)((in + 1U) & (HEARD_BYTES - 1));
    if (wrong != 0 || next == heard_out) {
        overruns++;
        return;
    }
    heard[in] = byte;
    heard_in = next;
}

bool serial_take(uint8_t *byte) {
    uint8_t out = heard_out;
    if (out == heard_in) {
        return false;
    }
    *byte = heard[out];
    heard_out = (uint8_t)((out + 1U) & (HEARD_BYTES - 1));
    return true;
}

bool serial_waits(void) {
    return heard_out != heard_in;
}

ISR(USART_UDRE_vect) {
    uint8_t out = send_out;
    UDR0 = port_send_ring[out];
    out = (uint8_t)((out + 1U) & (SEND_BYTES - 1));
    send_out = out;
    if (out == send_in) {
        UCSR0B &= (uint8_t) ~(1 << UDRIE0);
    }
}

uint8_t port_send_at(void) {
    return send_in;
}

uint8_t port_send_room(void) {
    uint8_t used = (uint8_t)(send_in - send_out) & (SEND_BYTES - 1);
    return (uint8_t)(SEND_BYTES - 1 - used);
}

void port_send_until(uint8_t end) {
    cli();
    send_in = end;
    UCSR0B |= 1 << UDRIE0;
    sei();
}

uint16_t port_overruns(void) {
    cli();
    uint16_t n = overruns;
    sei();
    return n;
}
