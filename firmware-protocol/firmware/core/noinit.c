#include "noinit.h"
#include "storage.h"
#include "frame.h"

static struct {
    uint16_t boot;
    int32_t from, to;
    uint16_t crc;
} note SURVIVES;

static uint16_t checksum(void) {
    uint16_t crc = CRC_START;
    crc = crc_add(crc, (uint8_t)note.boot);
    crc = crc_add(crc, (uint8_t)(note.boot >> 8));
    uint32_t from = (uint32_t)note.from, to = (uint32_t)note.to;
    for (uint8_t i = 0; i < 4; i++, from >>= 8, to >>= 8) {
        crc = crc_add(crc, (uint8_t)from);
        crc = crc_add(crc, (uint8_t)to);
    }
    return crc;
}

void noinit_note(uint16_t boot, int32_t from, int32_t to) {
    note.boot = boot;
    note.from = from;
    note.to = to;
    note.crc = checksum();
}

bool noinit_of(uint16_t boot) {
    return note.crc == checksum() && note.boot == boot;
}

bool noinit_stood(uint16_t boot, int32_t counted) {
    return noinit_of(boot) && note.from == counted && note.to == counted;
}

int32_t noinit_guess(uint16_t boot, int32_t kept, int32_t counted) {
    int32_t lo = note.from < note.to ? note.from : note.to;
    int32_t hi = note.from < note.to ? note.to : note.from;
    return noinit_of(boot) && counted >= lo && counted <= hi ? counted : kept;
}
