#include "memory.h"
#include "frame.h"
#include "port.h"

/* number, trust, boot, epoch, position, lo, hi, checksum, and the mark. */
#define ENTRY_BYTES 20U
#define SLOT_BYTES (ENTRY_BYTES + 1U)
#define STANDS 0xFFU
#define TURNED 0x00U

_Static_assert(MEMORY_SLOTS * SLOT_BYTES <= EEPROM_BYTES, "the ring does not fit");
_Static_assert(MEMORY_SLOTS < 128, "numbers modulo 256 must tell which entry is newer");

static uint8_t newest;             /* slot of the newest whole entry */
static uint8_t number;             /* its number */
static uint8_t slot[SLOT_BYTES];   /* what is being written */
static uint8_t done = SLOT_BYTES;  /* how much of it is; in the order that follows */
static bool marking;

/* The mark goes first: an entry that is whole must stand. */
static uint16_t place(uint8_t i) {
    return (uint16_t)((newest + 1U) % MEMORY_SLOTS * SLOT_BYTES + (i == 0 ? ENTRY_BYTES : i - 1U));
}

static void put(uint8_t at, uint32_t v, uint8_t bytes) {
    for (; bytes > 0; bytes--, v >>= 8) {
        slot[at++] = (uint8_t)v;
    }
}

static bool read(uint8_t which, uint8_t *to) {
    uint16_t crc = CRC_START;
    for (uint8_t i = 0; i < SLOT_BYTES; i++) {
        to[i] = port_eeprom_read((uint16_t)(which * SLOT_BYTES + i));
        if (i < ENTRY_BYTES - 2) {
            crc = crc_add(crc, to[i]);
        }
    }
    return crc == get_u16(&to[ENTRY_BYTES - 2]);
}

bool memory_load(struct memory *m, bool *turned) {
    bool found = false;
    done = SLOT_BYTES;
    marking = false;
    newest = MEMORY_SLOTS - 1; /* so that the first goes to the front */
    number = 0;
    for (uint8_t i = 0; i < MEMORY_SLOTS; i++) {
        if (!read(i, slot) || (found && (int8_t)(slot[0] - number) <= 0)) {
            continue;
        }
        found = true;
        newest = i;
        number = slot[0];
        *turned = slot[ENTRY_BYTES] != STANDS;
        m->trust = slot[1];
        m->boot = get_u16(&slot[2]);
        m->epoch = get_u16(&slot[4]);
        m->position = get_i32(&slot[6]);
        m->lo = get_i32(&slot[10]);
        m->hi = get_i32(&slot[14]);
    }
    return found;
}

void memory_save(const struct memory *m) {
    slot[0] = (uint8_t)(number + 1);
    slot[1] = m->trust;
    put(2, m->boot, 2);
    put(4, m->epoch, 2);
    put(6, (uint32_t)m->position, 4);
    put(10, (uint32_t)m->lo, 4);
    put(14, (uint32_t)m->hi, 4);
    uint16_t crc = CRC_START;
    for (uint8_t i = 0; i < ENTRY_BYTES - 2; i++) {
        crc = crc_add(crc, slot[i]);
    }
    put(ENTRY_BYTES - 2, crc, 2);
    slot[ENTRY_BYTES] = STANDS;
    done = 0;
    marking = false;
}

void memory_abandon(void) {
    done = SLOT_BYTES;
}

void memory_mark(void) {
    marking = true;
}

bool memory_written(void) {
    if (!port_eeprom_ready()) {
        return false;
    }
    while (done < SLOT_BYTES) {
        uint16_t at = place(done);
        uint8_t byte = slot[done == 0 ? ENTRY_BYTES : done - 1U];
        bool same = port_eeprom_read(at) == byte;
        if (++done == SLOT_BYTES) {
            newest = (uint8_t)((newest + 1U) % MEMORY_SLOTS);
            number++;
        }
        if (!same) {
            port_eeprom_write(at, byte);
            return false;
        }
    }
    if (marking) {
        marking = false;
        uint16_t at = (uint16_t)(newest * SLOT_BYTES + ENTRY_BYTES);
        if (port_eeprom_read(at) != TURNED) {
            port_eeprom_write(at, TURNED);
            return false;
        }
    }
    return true;
}
