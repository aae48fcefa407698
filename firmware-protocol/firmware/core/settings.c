#include "settings.h"
#include "frame.h"
#include "memory.h"
#include "port.h"

#define LAYOUT 1U

/* layout, number, body, checksum */
#define PLACE_BYTES (2U + SETTINGS_BODY + 2U)
#define PLACES_AT (MEMORY_SLOTS * MEMORY_SLOT_BYTES)

_Static_assert(PLACES_AT + 2U * PLACE_BYTES <= EEPROM_BYTES, "ring and settings do not fit");

static uint8_t newest; /* place of what counts */
static uint8_t number; /* its number */
static uint8_t place[PLACE_BYTES]; /* what is being written */
static uint8_t done = PLACE_BYTES;

/* Not memcpy: a freestanding compiler has no string.h. */
void settings_copy(uint8_t *to, const uint8_t *body) {
    for (uint8_t i = 0; i < SETTINGS_BODY; i++) {
        to[i] = body[i];
    }
}

void settings_get(struct settings *s, const uint8_t *b) {
    s->identity = (uint32_t)get_i32(b);
    s->fitted = b[4];
    s->reversed = b[5];
    s->microsteps = get_u16(b + 6);
    s->speed = get_u16(b + 8);
    s->current = get_u16(b + 10);
}

static uint16_t checksum(void) {
    uint16_t crc = CRC_START;
    for (uint8_t i = 0; i < PLACE_BYTES - 2; i++) {
        crc = crc_add(crc, place[i]);
    }
    return crc;
}

static uint16_t address(uint8_t which, uint8_t i) {
    return (uint16_t)(PLACES_AT + which * PLACE_BYTES + i);
}

bool settings_load(uint8_t *body) {
    bool found = false;
    done = PLACE_BYTES;
    newest = 1; /* so that the first goes to the front */
    number = 0;
    for (uint8_t which = 0; which < 2; which++) {
        for (uint8_t i = 0; i < PLACE_BYTES; i++) {
            place[i] = port_eeprom_read(address(which, i));
        }
        if (place[0] != LAYOUT || checksum() != get_u16(&place[PLACE_BYTES - 2]) ||
            (found && (int8_t)(place[1] - number) <= 0)) {
            continue;
        }
        found = true;
        newest = which;
        number = place[1];
        settings_copy(body, &place[2]);
    }
    return found;
}

void settings_save(const uint8_t *body) {
    place[0] = LAYOUT;
    place[1] = (uint8_t)(number + 1);
    settings_copy(&place[2], body);
    uint16_t crc = checksum();
    place[PLACE_BYTES - 2] = (uint8_t)crc;
    place[PLACE_BYTES - 1] = (uint8_t)(crc >> 8);
    done = 0;
}

bool settings_written(void) {
    while (done < PLACE_BYTES) {
        if (!port_eeprom_ready()) {
            return false;
        }
        uint16_t at = address((uint8_t)(1U - newest), done);
        uint8_t byte = place[done];
        bool same = port_eeprom_read(at) == byte;
        if (++done == PLACE_BYTES) {
            newest = (uint8_t)(1U - newest);
            number++;
        }
        if (!same) {
            port_eeprom_write(at, byte);
        }
    }
    return port_eeprom_ready();
}
