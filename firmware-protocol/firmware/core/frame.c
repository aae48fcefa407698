#include "frame.h"

/* Polynomial 1021, most significant bit first, by the byte: the same as eight
 * shifts, as the tests show. */
uint16_t crc_add(uint16_t crc, uint8_t byte) {
    uint8_t x = (uint8_t)((crc >> 8) ^ byte);
    x ^= x >> 4;
    return (uint16_t)((crc << 8) ^ ((uint16_t)x << 12) ^ ((uint16_t)x << 5) ^ x);
}

static enum heard judge(const struct ear *e) {
    if (e->wire > MAX_WIRE - 1) {
        return BAD_LONG;
    }
    if (e->left != 0) {
        return BAD_STUFFING; /* the block was not full */
    }
    if (e->length < 4) {
        return BAD_SHORT;
    }
    uint16_t crc = CRC_START;
    uint8_t body = (uint8_t)(e->length - 2);
    for (uint8_t i = 0; i < body; i++) {
        crc = crc_add(crc, e->payload[i]);
    }
    return crc == get_u16(&e->payload[body]) ? HEARD_FRAME : BAD_CHECKSUM;
}

enum heard ear_take(struct ear *e, uint8_t byte) {
    if (byte == 0) {
        enum heard what = e->wire == 0 ? HEARD_NOTHING : judge(e);
        e->wire = 0;
        e->left = 0;
        return what;
    }
    if (e->wire == 0) {
        e->length = 0;
        e->owes_zero = false;
    }
    if (e->wire > MAX_WIRE - 1) {
        return HEARD_NOTHING; /* too long already */
    }
    e->wire++;
    uint8_t plain = byte;
    if (e->left == 0) { /* a block begins: a zero ended the one before */
        e->left = (uint8_t)(byte - 1);
        bool owed = e->owes_zero;
        e->owes_zero = true; /* a block of 254 bytes, which does not, would be too long */
        if (!owed) {
            return HEARD_NOTHING;
        }
        plain = 0;
    } else {
        e->left--;
    }
    if (e->length < MAX_PAYLOAD) {
        e->payload[e->length++] = plain;
    }
    return HEARD_NOTHING;
}

static void put(struct mouth *m, uint8_t byte) {
    m->ring[m->at] = byte;
    m->at = (uint8_t)((m->at + 1U) & m->mask);
}

static void begin_block(struct mouth *m) {
    m->block = m->at;
    m->run = 1;
    put(m, 1);
}

void mouth_open(struct mouth *m, uint8_t *ring, uint8_t mask, uint8_t at) {
    m->ring = ring;
    m->mask = mask;
    m->at = at;
    m->crc = CRC_START;
    begin_block(m);
}

/* No frame is as long as the longest block of stuffing, 254 bytes. */
static void stuff(struct mouth *m, uint8_t byte) {
    if (byte != 0) {
        put(m, byte);
        m->ring[m->block] = ++m->run;
    } else {
        begin_block(m);
    }
}

void mouth_u8(struct mouth *m, uint8_t v) {
    m->crc = crc_add(m->crc, v);
    stuff(m, v);
}

void mouth_u16(struct mouth *m, uint16_t v) {
    mouth_u8(m, (uint8_t)v);
    mouth_u8(m, (uint8_t)(v >> 8));
}

void mouth_u32(struct mouth *m, uint32_t v) {
    mouth_u16(m, (uint16_t)v);
    mouth_u16(m, (uint16_t)(v >> 16));
}

uint8_t mouth_close(struct mouth *m) {
    uint16_t crc = m->crc;
    stuff(m, (uint8_t)crc);
    stuff(m, (uint8_t)(crc >> 8));
    put(m, 0);
    return m->at;
}

uint16_t get_u16(const uint8_t *b) {
    return (uint16_t)(b[0] | ((uint16_t)b[1] << 8));
}

int32_t get_i32(const uint8_t *b) {
    return (int32_t)(get_u16(b) | ((uint32_t)get_u16(b + 2) << 16));
}
