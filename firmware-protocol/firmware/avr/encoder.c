#include "encoder.h"
#include "../core/port.h"
#include <avr/io.h>
#include <util/twi.h>

#define ADDRESS 0x36U
#define REGISTER_STATUS 0x0BU
#define STATUS_MAGNET 0x20U

/* A reading goes: start, address to write, register, start again, address to read,
 * three bytes, stop. */
static uint8_t got[3];
static uint8_t count;
static enum encoder state = ENCODER_NONE;
static uint16_t latest;
static bool busy, register_given;
static uint32_t began;

static void bus(uint8_t orders) {
    TWCR = (uint8_t)(1 << TWINT | 1 << TWEN | orders);
}

void encoder_start(void) {
    TWSR = 0;
    TWBR = 72; /* 100 kHz */
}

static void leave(enum encoder result) {
    bus(1 << TWSTO);
    busy = false;
    /* one that never spoke is not there */
    state = result == ENCODER_SILENT && state == ENCODER_NONE ? ENCODER_NONE : result;
}

static void received(uint8_t byte) {
    got[count++] = byte;
    if (count < sizeof got) {
        bus(count == sizeof got - 1 ? 0 : 1 << TWEA);
        return;
    }
    latest = (uint16_t)((got[1] & 0x0F) << 8 | got[2]);
    leave((got[0] & STATUS_MAGNET) != 0 ? ENCODER_OK : ENCODER_NO_MAGNET);
}

void encoder_run(void) {
    const uint32_t every = 20000, patience = 15000; /* microseconds */
    uint32_t now = port_micros();
    if (!busy) {
        if (now - began >= every) {
            began = now;
            busy = true;
            count = 0;
            register_given = false;
            bus(1 << TWSTA);
        }
        return;
    }
    if ((TWCR & (1 << TWINT)) == 0) {
        if (now - began > patience) { /* the bus hangs */
            TWCR = 0;
            busy = false;
            state = state == ENCODER_NONE ? ENCODER_NONE : ENCODER_SILENT;
        }
        return;
    }
    switch (TW_STATUS) {
    case TW_START:
        TWDR = ADDRESS << 1 | TW_WRITE;
        bus(0);
        break;
    case TW_MT_SLA_ACK:
    case TW_MT_DATA_ACK:
        if (register_given) {
            bus(1 << TWSTA);
            break;
        }
        register_given = true;
        TWDR = REGISTER_STATUS;
        bus(0);
        break;
    case TW_REP_START:
        TWDR = ADDRESS << 1 | TW_READ;
        bus(0);
        break;
    case TW_MR_SLA_ACK:
        bus(1 << TWEA);
        break;
    case TW_MR_DATA_ACK:
    case TW_MR_DATA_NACK:
        received(TWDR);
        break;
    default:
        leave(ENCODER_SILENT);
    }
}

enum encoder port_encoder(uint16_t *angle) {
    *angle = latest;
    return state;
}
