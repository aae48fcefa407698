/* Frames of the link (LINK.md, section 2): stuffing, checksum, and nothing of what
 * they mean. */
#ifndef FRAME_H
#define FRAME_H

#include <stdbool.h>
#include <stdint.h>

#define MAX_PAYLOAD 64U
#define MAX_WIRE (MAX_PAYLOAD + 2U)

#define CRC_START 0xFFFFU
uint16_t crc_add(uint16_t crc, uint8_t byte);

/* What became of the bytes up to a zero. */
enum heard {
    HEARD_NOTHING, /* no zero yet, or a lone one */
    HEARD_FRAME,
    BAD_STUFFING,
    BAD_SHORT,
    BAD_LONG,
    BAD_CHECKSUM
};

/* A frame as it comes in, unstuffed byte by byte. Its zero value is ready. */
struct ear {
    uint8_t payload[MAX_PAYLOAD]; /* type, sequence, body, checksum */
    uint8_t length;
    uint8_t wire; /* bytes since the last zero, at most MAX_WIRE */
    uint8_t left; /* of the block of stuffing */
    bool owes_zero;
};

/* Takes one byte. After HEARD_FRAME the payload stands until the next byte. */
enum heard ear_take(struct ear *, uint8_t byte);

/* A frame on its way out, into a ring of a power of two of bytes, which nobody
 * reads beyond what was there before until mouth_close has returned where it ends. */
struct mouth {
    uint8_t *ring;
    uint8_t mask;
    uint8_t at;    /* where the next byte goes */
    uint8_t block; /* where the length of the block stands */
    uint8_t run;   /* that length */
    uint16_t crc;
};

void mouth_open(struct mouth *, uint8_t *ring, uint8_t mask, uint8_t at);
void mouth_u8(struct mouth *, uint8_t);
void mouth_u16(struct mouth *, uint16_t);
void mouth_u32(struct mouth *, uint32_t);
/* Ends the frame with checksum and zero. */
uint8_t mouth_close(struct mouth *);

uint16_t get_u16(const uint8_t *);
int32_t get_i32(const uint8_t *);

#endif
