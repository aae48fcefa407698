#include "memory.h"
#include "frame.h"
#include "port.h"

/* number, trust, boot, epoch, issued, position, lo, hi, checksum, and the mark. */
#define ENTRY_BYTES 22U
#define SLOT_BYTES MEMORY_SLOT_BYTES
_Static_assert(SLOT_BYTES == ENTRY_BYTES + 1U, "an entry and its mark");

/* The checksum of an entry begins with this layout's own value, so that entries of
 * another layout are not read. */
#define LAYOUT_START (CRC_START ^ 2U)

/* Layout 1, of firmware up to 1.2: number, trust, boot, epoch, 12 bytes, checksum; mark. */
#define LAYOUT1_SLOTS 48U
#define LAYOUT1_ENTRY 20U
#define LAYOUT1_SLOT 21U

/* The mark: one half for each of two things that happened since. */
#define STANDS 0xFFU
#define TURNED 0x0FU
#define GIVEN 0xF0U
_Static_assert(MEMORY_SLOTS < 128, "numbers modulo 256 must tell which entry is newer");

static uint8_t given; /* numbers since the newest entry */
static uint8_t newest;             /* slot of the newest whole entry */
static uint8_t number;             /* its number */
static uint8_t slot[SLOT_BYTES];   /* what is being written */
static uint8_t done = SLOT_BYTES;  /* how much of it is; in the order that follows */
static uint8_t mark; /* halves to be cleared in the mark of the newest entry */

/* The mark goes first: an entry that is whole must stand. */
static uint16_t place(uint8_t i) {
    return (uint16_t)((newest + 1U) % MEMORY_SLOTS * SLOT_BYTES + (i == 0 ? ENTRY_BYTES : i - 1U));
}

static void put(uint8_t at, uint32_t v, uint8_t bytes) {
    for (; bytes > 0; bytes--, v >>= 8) {
        slot[at++] = (uint8_t)v;
    }
}

/* Reads an entry with its mark into slot. */
static bool read(uint16_t at, uint8_t entry_bytes, uint16_t crc) {
    for (uint8_t i = 0; i <= entry_bytes; i++) {
        slot[i] = port_eeprom_read((uint16_t)(at + i));
        if (i < entry_bytes - 2) {
            crc = crc_add(crc, slot[i]);
        }
    }
    return crc == get_u16(&slot[entry_bytes - 2]);
}

/* Boot count and epoch of a ring of layout 1: neither begins anew with a new image. */
static void load_layout1(struct memory *m) {
    bool found = false;
    uint8_t at = 0;
    m->boot = 0;
    m->issued = 0;
    for (uint8_t i = 0; i < LAYOUT1_SLOTS; i++) {
        if (read((uint16_t)(i * LAYOUT1_SLOT), LAYOUT1_ENTRY, CRC_START) && (!found || (int8_t)(slot[0] - at) > 0)) {
            found = true;
            at = slot[0];
            m->boot = get_u16(&slot[2]);
            m->issued = (uint16_t)(get_u16(&slot[4]) + MOST_GIVEN); /* it gave some without a mark */
        }
    }
}

bool memory_load(struct memory *m, bool *turned) {
    bool found = false;
    given = 0;
    done = SLOT_BYTES;
    mark = STANDS;
    newest = MEMORY_SLOTS - 1; /* so that the first goes to the front */
    number = 0;
    for (uint8_t i = 0; i < MEMORY_SLOTS; i++) {
        if (!read((uint16_t)(i * SLOT_BYTES), ENTRY_BYTES, LAYOUT_START) || (found && (int8_t)(slot[0] - number) <= 0)) {
            continue;
        }
        found = true;
        newest = i;
        number = slot[0];
        *turned = (slot[ENTRY_BYTES] & TURNED) != TURNED;
        m->trust = slot[1];
        m->boot = get_u16(&slot[2]);
        m->epoch = get_u16(&slot[4]);
        m->issued = get_u16(&slot[6]);
        if ((slot[ENTRY_BYTES] & GIVEN) != GIVEN) {
            m->issued = (uint16_t)(m->issued + MOST_GIVEN);
        }
        m->position = get_i32(&slot[8]);
        m->lo = get_i32(&slot[12]);
        m->hi = get_i32(&slot[16]);
    }
    if (!found) {
        load_layout1(m);
    }
    return found;
}

void memory_save(const struct memory *m) {
    slot[0] = (uint8_t)(number + 1);
    slot[1] = m->trust;
    put(2, m->boot, 2);
    put(4, m->epoch, 2);
    put(6, m->issued, 2);
    put(8, (uint32_t)m->position, 4);
    put(12, (uint32_t)m->lo, 4);
    put(16, (uint32_t)m->hi, 4);
    uint16_t crc = LAYOUT_START;
    for (uint8_t i = 0; i < ENTRY_BYTES - 2; i++) {
        crc = crc_add(crc, slot[i]);
    }
    put(ENTRY_BYTES - 2, crc, 2);
    slot[ENTRY_BYTES] = STANDS;
    done = 0;
    mark = STANDS;
}

void memory_abandon(void) {
    done = SLOT_BYTES;
}

void memory_mark(void) {
    mark = (uint8_t)(mark & ~TURNED);
}

static uint16_t mark_place(void) {
    return (uint16_t)(newest * SLOT_BYTES + ENTRY_BYTES);
}

static void await(void) {
    while (!port_eeprom_ready()) {
    }
}

uint16_t memory_issue(struct memory *m) {
    if (given == MOST_GIVEN) { /* a host that declares faster than can be written */
        while (!memory_written()) {
        }
    }
    given++;
    await();
    uint8_t marked = port_eeprom_read(mark_place());
    if ((marked & GIVEN) != 0) {
        port_eeprom_write(mark_place(), (uint8_t)(marked & ~GIVEN));
        await();
    }
    return ++m->issued;
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
    given = 0;
    if (mark != STANDS) {
        uint8_t marked = port_eeprom_read(mark_place());
        uint8_t wanted = marked & mark;
        mark = STANDS;
        if (wanted != marked) {
            port_eeprom_write(mark_place(), wanted);
            return false;
        }
    }
    return true;
}
