#include "jig.h"
#include "config.h"
#include "frame.h"
#include "memory.h"
#include "motion.h"
#include "port.h"
#include "noinit.h"
#include "settings.h"
#include "storage.h"

#define LINK_MAJOR 1U
#define LINK_MINOR 4U
#define SPEED_NEEDED_FROM 4U /* minor of a host to which speed 0 is a bad value */
#define RECALL 100U /* newer requests after which a copy of a move older than a stop cannot come */
#define SILENCE_MS 500U
#define HOLD_US 600000000UL /* with a silent host, ten minutes */

/* A window that no target is in. */
#define CLOSED_LO 1
#define CLOSED_HI 0

enum type { HELLO = 1, STATUS, MOVE, STOP, ENERGISE, WINDOW, DECLARE, INSPECT, SETTINGS, CONFIGURE, EVENT = 0x40, REPLY = 0x80 };

enum code {
    OK, OUTSIDE_WINDOW, NOT_ENERGISED, IS_MOVING, BAD_VERSION, MALFORMED, UNKNOWN_TYPE, BAD_VALUE, STOP_HELD, NO_SUPPLY,
    IS_ENERGISED
};

enum flag { FLAG_MOVING = 1, FLAG_ENERGISED = 2, FLAG_STOP_HELD = 4, FLAG_LIMIT_HELD = 8, FLAG_STEPPED = 16, FLAG_NO_SUPPLY = 32 };

static struct memory memory;
static bool saving; /* more than a position is not yet written */
static struct settings settings;
static uint8_t settings_body[SETTINGS_BODY]; /* the same as on the link */
static bool settling; /* they are not yet written */
/* What follows from them. */
static uint8_t wired; /* guards */
static uint16_t top_speed;
static uint32_t accel;
static uint16_t start_stop;
static enum cause started_by;
static bool energised;
static enum { STANDING, READYING, TURNING } state;
static int32_t target;
static bool stepped;        /* the last move, which has ended, made a step */
static uint32_t first_step; /* of the last motion, when it was or is due, microseconds */
static uint16_t speed; /* ordered */
static enum reason reason;
static uint32_t heard_at;
static uint32_t patience; /* with a silent host, microseconds */
static uint8_t events;
static uint16_t dropped; /* frames */
static struct ear ear;

/* The last request that has an effect and is neither hello nor stop. Bodies that are
 * longer are told apart by the checksum. */
static struct {
    uint8_t type, number, length, code;
    uint8_t body[8];
    uint16_t crc;
} last;
static uint8_t host_minor; /* of the last hello; a host that has said none is a new one */
static bool stopped;       /* a stop has come not long ago */
static uint8_t stop_number;

static void save(void) {
    memory_save(&memory);
    saving = true;
}

/* ---- what is said ---- */

static bool open_frame(struct mouth *m, uint8_t type, uint8_t number, uint8_t what, uint8_t wire) {
    if (port_send_room() < wire) {
        return false;
    }
    mouth_open(m, port_send_ring, SEND_BYTES - 1, port_send_at());
    mouth_u8(m, type);
    mouth_u8(m, number);
    mouth_u8(m, what);
    return true;
}

static bool supply_missing(void) {
    return (settings.fitted & FITTED_SUPPLY) != 0 && !port_supply();
}

static void say_status(struct mouth *m) {
    uint8_t held = port_guards() & wired;
    int32_t position;
    uint32_t now = port_micros_at(&position);
    mouth_u16(m, memory.boot);
    mouth_u32(m, now);
    mouth_u32(m, (uint32_t)position);
    mouth_u32(m, (uint32_t)target);
    uint8_t flags = 0;
    if (state != STANDING) {
        flags |= FLAG_MOVING;
    }
    if (energised) {
        flags |= FLAG_ENERGISED;
    }
    if ((held & GUARD_STOP) != 0) {
        flags |= FLAG_STOP_HELD;
    }
    if ((held & (GUARD_LIMIT_LO | GUARD_LIMIT_HI)) != 0) {
        flags |= FLAG_LIMIT_HELD;
    }
    if (supply_missing()) {
        flags |= FLAG_NO_SUPPLY;
    }
    /* while the motor turns, the memory has where it began */
    if (stepped || position != memory.position) {
        flags |= FLAG_STEPPED;
    }
    mouth_u8(m, flags);
    mouth_u8(m, memory.trust);
    mouth_u16(m, memory.epoch);
    mouth_u8(m, (uint8_t)reason);
    mouth_u8(m, (uint8_t)started_by);
}

#define STATUS_WIRE 27U /* of a reply with nothing but the status */
#define STEP_BYTES 4U
#define INSIDE_BYTES 7U
#define MOST_BYTES (SETTINGS_BODY + 1U) /* behind the status in a reply; more only to hello */

static void say_event(void) {
    struct mouth m;
    if (open_frame(&m, EVENT, events++, (uint8_t)reason, STATUS_WIRE + STEP_BYTES)) {
        say_status(&m);
        mouth_u32(&m, first_step);
        port_send_until(mouth_close(&m));
    }
}

/* The encoder by the settings: one that is fitted and was never heard is silent. As long
 * as nothing was stored, one that answers is fitted. */
static enum encoder encoder(uint16_t *angle) {
    enum encoder e = port_encoder(angle);
    if ((settings.fitted & FITTED_ENCODER_BACK) != 0) {
        *angle = (uint16_t)(4096U - *angle) & 4095U;
    }
    if (settings.identity == 0) {
        return e;
    }
    if ((settings.fitted & FITTED_ENCODER) == 0) {
        return ENCODER_NONE;
    }
    return e == ENCODER_NONE ? ENCODER_SILENT : e;
}

static uint16_t features(void) {
    uint16_t angle;
    uint16_t f = settings.fitted & (FITTED_STOP | FITTED_LIMITS | FITTED_STALL | FITTED_SUPPLY);
    if (encoder(&angle) != ENCODER_NONE) {
        f |= FITTED_ENCODER;
    }
    return f;
}

static void say_greeting(struct mouth *m) {
    static const char name[8] = FIRMWARE_NAME;
    mouth_u8(m, LINK_MAJOR);
    mouth_u8(m, LINK_MINOR);
    for (uint8_t i = 0; i < sizeof name; i++) {
        mouth_u8(m, (uint8_t)name[i]);
    }
    mouth_u8(m, FIRMWARE_MAJOR);
    mouth_u8(m, FIRMWARE_MINOR);
    mouth_u32(m, FULL_STEPS_PER_TURN * settings.microsteps);
    mouth_u16(m, top_speed);
    mouth_u32(m, accel);
    mouth_u16(m, start_stop);
    mouth_u16(m, settings.current);
    mouth_u32(m, (uint32_t)memory.lo);
    mouth_u32(m, (uint32_t)memory.hi);
    mouth_u16(m, features());
    mouth_u16(m, SILENCE_MS);
}

static void say_inside(struct mouth *m) {
    uint16_t angle = 0;
    mouth_u8(m, (uint8_t)encoder(&angle));
    mouth_u16(m, angle);
    mouth_u16(m, port_overruns());
    mouth_u16(m, dropped);
}

static void say_settings(struct mouth *m) {
    for (uint8_t i = 0; i < SETTINGS_BODY; i++) {
        mouth_u8(m, settings_body[i]);
    }
    mouth_u8(m, !settling);
}

/* ---- what is done ---- */

/* The greatest speed, the acceleration and the start-stop rate of config.h hold for its
 * microsteps; others get them scaled, so that a full step is never faster. Nor is the step
 * interrupt. */
#define FINEST (4U * MICROSTEPS)
#define COARSEST (MICROSTEPS >= 16U ? MICROSTEPS / 16U : 1U)
_Static_assert(MAX_SPEED / 16U > 0 && START_STOP / 16U > 0, "too slow to be scaled");

/* Until something is stored: no identity, stop and limits fitted, the image's figures. */
static const uint8_t unsettled[SETTINGS_BODY] = {0, 0, 0, 0, FITTED_STOP | FITTED_LIMITS, 0, MICROSTEPS, 0, 0, 0,
                                                 CURRENT_MA & 0xFFU, CURRENT_MA >> 8};

/* 256 sqrt(2^-i) for i from -4 to 2, rounded up. */
static const uint16_t stretches[] FLASH = {1024, 725, 512, 363, 256, 182, 128};

static uint16_t scaled(uint32_t figure, uint16_t microsteps) {
    return (uint16_t)(figure * microsteps / MICROSTEPS);
}

static uint16_t fastest(uint16_t microsteps) {
    return microsteps < MICROSTEPS ? scaled(MAX_SPEED, microsteps) : (uint16_t)MAX_SPEED;
}

static bool settings_are_good(const struct settings *s) {
    bool power_of_two = (s->microsteps & (s->microsteps - 1U)) == 0;
    return s->identity != 0 && s->fitted <= FITTED_ALL && s->reversed <= 1 && power_of_two &&
           s->microsteps >= COARSEST && s->microsteps <= FINEST && s->speed <= fastest(s->microsteps);
}

static void apply_settings(void) {
    settings_get(&settings, settings_body);
    wired = 0;
    if ((settings.fitted & FITTED_STOP) != 0) {
        wired |= GUARD_STOP;
    }
    if ((settings.fitted & FITTED_LIMITS) != 0) {
        wired |= GUARD_LIMIT_LO | GUARD_LIMIT_HI;
    }
    if ((settings.fitted & FITTED_STALL) != 0) {
        wired |= GUARD_STALL;
    }
    uint8_t i = 4;
    for (uint16_t m = settings.microsteps; m < MICROSTEPS; m = (uint16_t)(m * 2U)) {
        i--;
    }
    for (uint16_t m = settings.microsteps; m > MICROSTEPS; m = (uint16_t)(m / 2U)) {
        i++;
    }
    top_speed = settings.speed != 0 ? settings.speed : fastest(settings.microsteps);
    accel = (uint32_t)ACCEL * settings.microsteps / MICROSTEPS;
    start_stop = scaled(START_STOP, settings.microsteps);
    motion_configure(settings.reversed != 0, FLASH_U16(&stretches[i]), start_stop);
}

/* The position is lost: until a host has declared it, and opened the window, nothing
 * moves. */
static void lose_position(void) {
    memory.trust = TRUST_UNKNOWN;
    memory.lo = CLOSED_LO;
    memory.hi = CLOSED_HI;
}

/* The count begins anew, at 0. */
static void count_anew(void) {
    lose_position();
    memory.position = 0;
    memory.epoch = memory_issue(&memory);
    motion.position = 0;
    target = 0;
    save();
}

/* The motor has stopped, or was switched off: keeps where, and tells why unless that was
 * ordered. */
static void stand(void) {
    reason = (enum reason)motion.reason;
    stepped = state == STANDING ? stepped : motion.position != memory.position;
    state = STANDING;
    memory.position = motion.position;
    if (motion.lost && memory.trust == TRUST_KEPT) {
        memory.trust = TRUST_DOUBTFUL;
    }
    noinit_note(memory.boot, memory.position, memory.position);
    memory_save(&memory);
    if (reason != REASON_ORDER) {
        say_event();
    }
}

static void stand_if_ended(void) {
    if (state == TURNING && !motion.turning) {
        stand();
    }
}

static void stop(bool abrupt) {
    if (state == READYING) {
        motion.reason = REASON_ORDER;
        motion.lost = false;
        stand();
        return;
    }
    if (abrupt) {
        motion_halt(REASON_ORDER);
    } else {
        motion_brake(REASON_ORDER);
    }
    stand_if_ended();
}

/* Whether a request was numbered before the last stop: a copy that came late. */
static bool before_stop(uint8_t number) {
    return stopped && (int8_t)(uint8_t)(number - stop_number) <= 0;
}

static void note_number(uint8_t number) {
    uint8_t after = (uint8_t)(number - stop_number);
    if (after >= RECALL && after < 128) {
        stopped = false;
    }
}

static enum code move(uint8_t numbered, int32_t to, uint16_t at) {
    if (state != STANDING) {
        return IS_MOVING;
    }
    uint8_t ahead = to > memory.position ? GUARD_LIMIT_HI : GUARD_LIMIT_LO;
    if ((port_guards() & wired & (GUARD_STOP | ahead)) != 0) {
        return STOP_HELD;
    }
    if (!energised) {
        return NOT_ENERGISED;
    }
    if (before_stop(numbered) || (at == 0 && host_minor >= SPEED_NEEDED_FROM)) {
        return BAD_VALUE;
    }
    if (to < memory.lo || to > memory.hi) {
        return OUTSIDE_WINDOW;
    }
    target = to;
    stepped = false;
    if (to == memory.position) {
        reason = REASON_DONE;
        return OK;
    }
    speed = at == 0 || at > top_speed ? top_speed : at;
    reason = REASON_NONE;
    state = READYING;
    if (!saving) {
        memory_abandon(); /* where it stood; it turns again */
    }
    memory_mark();
    return OK;
}

static enum code declare(int32_t position) {
    if (state != STANDING) {
        return IS_MOVING;
    }
    memory.position = position;
    memory.trust = TRUST_KEPT;
    memory.epoch = memory_issue(&memory);
    motion.position = position;
    target = position;
    save();
    return OK;
}

static enum code set_window(int32_t lo, int32_t hi) {
    if (state != STANDING) {
        return IS_MOVING;
    }
    if (lo > hi) {
        return BAD_VALUE;
    }
    memory.lo = lo;
    memory.hi = hi;
    save();
    return OK;
}

static enum code energise(bool on) {
    if (state != STANDING && !on) {
        return IS_MOVING;
    }
    if (on && (port_guards() & wired & GUARD_STOP) != 0) {
        return STOP_HELD;
    }
    if (on && supply_missing()) {
        return NO_SUPPLY;
    }
    energised = on;
    port_energise(on);
    return OK;
}

static enum code configure(const uint8_t *body) {
    struct settings wanted;
    if (state != STANDING) {
        return IS_MOVING;
    }
    if (energised) {
        return IS_ENERGISED;
    }
    settings_get(&wanted, body);
    if (!settings_are_good(&wanted)) {
        return BAD_VALUE;
    }
    /* The ring is written before the settings: cut in between, the position is unknown
     * and the settings are the old ones. */
    if (wanted.microsteps != settings.microsteps || wanted.reversed != settings.reversed) {
        count_anew();
    }
    settings_copy(settings_body, body);
    apply_settings();
    settings_save(settings_body);
    settling = true;
    return OK;
}

/* The motor's supply went while the motor had current: the rotor is free. */
static void supply_lost(void) {
    uint16_t angle;
    motion_halt(REASON_FAULT);
    motion.reason = REASON_FAULT;
    if (encoder(&angle) != ENCODER_OK) {
        lose_position();
    } else if (memory.trust == TRUST_KEPT) {
        memory.trust = TRUST_DOUBTFUL;
    }
    energised = false;
    port_energise(false);
    stand();
    save();
}

static enum code hello(uint8_t major, uint8_t minor) {
    if (major != LINK_MAJOR) {
        return BAD_VERSION;
    }
    host_minor = minor;
    return OK;
}

static enum code carry_out(uint8_t type, uint8_t number, const uint8_t *body, uint8_t length) {
    static const uint8_t need[] = {0, 2, 0, 6, 1, 1, 8, 4, 0, 0, SETTINGS_BODY};
    if (type >= sizeof need) {
        return UNKNOWN_TYPE;
    }
    if (length < need[type]) {
        return MALFORMED;
    }
    switch (type) {
    case HELLO:
        return hello(body[0], body[1]);
    case MOVE:
        return move(number, get_i32(body), get_u16(body + 4));
    case STOP:
        stop(body[0] != 0);
        return OK;
    case ENERGISE:
        return energise(body[0] != 0);
    case WINDOW:
        return set_window(get_i32(body), get_i32(body + 4));
    case DECLARE:
        return declare(get_i32(body));
    case CONFIGURE:
        return configure(body);
    default: /* STATUS, INSPECT and SETTINGS do nothing */
        return OK;
    }
}

/* Whether the request is the last one again; keeps it where not. */
static bool repeated(uint8_t type, uint8_t number, const uint8_t *body, uint8_t length) {
    uint16_t crc = get_u16(body + length);
    bool same = last.type == type && last.number == number && last.length == length && last.crc == crc;
    for (uint8_t i = 0; i < sizeof last.body && i < length; i++) {
        same = same && last.body[i] == body[i];
        last.body[i] = body[i];
    }
    last.type = type;
    last.number = number;
    last.length = length;
    last.crc = crc;
    return same;
}

static void answer(void) {
    uint8_t type = ear.payload[0], number = ear.payload[1];
    const uint8_t *body = &ear.payload[2];
    uint8_t length = (uint8_t)(ear.length - 4);
    if (type == 0 || type >= EVENT) {
        return;
    }
    heard_at = port_micros();
    uint8_t code;
    note_number(number);
    if (type == STOP) {
        stopped = true;
        stop_number = number;
    } else if (type == HELLO) {
        last.type = 0;
        stopped = false;
    }
    if (type == HELLO || type == STATUS || type == STOP || type == INSPECT || type == SETTINGS) {
        code = (uint8_t)carry_out(type, number, body, length);
    } else {
        if (!repeated(type, number, body, length)) {
            last.code = (uint8_t)carry_out(type, number, body, length);
        }
        code = last.code;
    }
    struct mouth m;
    if (open_frame(&m, type | REPLY, number, code, type == HELLO ? MAX_WIRE : STATUS_WIRE + MOST_BYTES)) {
        say_status(&m);
        if (type == HELLO) {
            say_greeting(&m);
        } else if (type == STATUS) {
            mouth_u32(&m, first_step);
        } else if (type == INSPECT) {
            say_inside(&m);
        } else if (type == SETTINGS || type == CONFIGURE) {
            say_settings(&m);
        }
        port_send_until(mouth_close(&m));
    }
}

void jig_hear(uint8_t byte) {
    stand_if_ended();
    switch (ear_take(&ear, byte)) {
    case HEARD_NOTHING:
        break;
    case HEARD_FRAME:
        answer();
        break;
    default:
        dropped++;
    }
}

/* A silent host's motor is to stand when SILENCE_MS are over, its ramp included, which
 * takes a tenth of a second at most. */
_Static_assert(MAX_SPEED * 10UL <= ACCEL, "the ramp takes too long");
#define LONGEST_RAMP_US 100000UL

static void begin(void) {
    uint32_t ramp_us = (uint32_t)speed * 10000U / (accel / 100U);
    patience = SILENCE_MS * 1000UL - (ramp_us < LONGEST_RAMP_US ? ramp_us : LONGEST_RAMP_US);
    noinit_note(memory.boot, memory.position, target);
    state = TURNING;
    uint8_t guards = GUARD_STOP | GUARD_STALL | (target > memory.position ? GUARD_LIMIT_HI : GUARD_LIMIT_LO);
    first_step = motion_begin(target, speed, guards & wired);
}

/* Between pulses: an input that is held at two looks a millisecond apart ends the motion,
 * however long the next pulse is off. */
static void look(void) {
    static uint32_t looked_at;
    static uint8_t seen;
    static bool missing;
    uint32_t now = port_micros();
    if (now - looked_at < 1000) {
        return;
    }
    looked_at = now;
    uint8_t held = port_guards();
    if (state == TURNING) {
        motion_look(held & seen);
    }
    seen = held;
    bool gone = supply_missing();
    if (gone && missing && energised) {
        supply_lost();
    }
    missing = gone;
}

void jig_run(void) {
    look();
    bool written = memory_written();
    if (written) {
        saving = false;
        written = settings_written();
        settling = settling && !written;
    }
    if (state == READYING && written) {
        begin();
    }
    if (state == TURNING && port_micros() - heard_at > patience) {
        motion_brake(REASON_SILENCE);
    }
    if (state == STANDING && energised && port_micros() - heard_at > HOLD_US) {
        energise(false);
    }
    stand_if_ended();
}

static void await_memory(void) {
    while (!port_eeprom_ready()) {
    }
}

void jig_start(enum cause cause) {
    bool turned = false, stored = false;
    await_memory(); /* a write goes on through a reset */
    bool found = memory_load(&memory, &turned);
    bool supply_stayed = found && (cause == CAUSE_EXTERNAL || cause == CAUSE_WATCHDOG ||
                                   (cause == CAUSE_UNKNOWN && noinit_of(memory.boot)));
    if (supply_stayed && turned && noinit_stood(memory.boot, motion.position)) {
        turned = false;
        memory.position = motion.position;
    }
    if (settings_load(settings_body)) {
        settings_get(&settings, settings_body);
        stored = settings_are_good(&settings);
    }
    if (!stored) {
        settings_copy(settings_body, unsettled);
    }
    settling = false;
    apply_settings();
    if (!supply_stayed) {
        lose_position();
        memory.position = 0;
        memory.epoch = ++memory.issued; /* written before anybody is told */
    } else if (turned) {
        memory.position = noinit_guess(memory.boot, memory.position, motion.position);
        if (memory.trust == TRUST_KEPT) {
            memory.trust = TRUST_DOUBTFUL;
        }
    }
    memory.boot++;
    started_by = cause;
    energised = false;
    port_energise(false);
    state = STANDING;
    reason = found && turned ? REASON_RESET : REASON_NONE;
    motion.turning = false;
    motion.position = memory.position;
    target = memory.position;
    stepped = false;
    first_step = 0;
    heard_at = port_micros();
    events = 0;
    dropped = 0;
    last.type = 0;
    host_minor = LINK_MINOR;
    stopped = false;
    ear.wire = 0;
    ear.left = 0;
    memory_save(&memory);
    while (!memory_written()) {
    }
    await_memory();
    saving = false;
    noinit_note(memory.boot, memory.position, memory.position);
}
