/* The machine that runs the core by itself, without a chip: the same time, the same
 * orders, so that both can be held against each other. */
#include "../../simulator/process/machine.h"
#include "../core/jig.h"
#include "../core/motion.h"
#include "../core/port.h"
#include "../core/noinit.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define CYCLES_PER_US 16U
#define CYCLES_PER_TICK 8U
#define LOOP_CYCLES 320U       /* one turn of the main loop */
#define BYTE_CYCLES 1360U      /* ten bits at 117,647 baud */
#define EEPROM_CYCLES 54400U   /* 3.4 ms, from the ATmega328P's data sheet */
#define NEVER UINT64_MAX

static uint64_t now, started_at;
static uint64_t step_at = NEVER, send_at, eeprom_at;
static bool up;
static uint8_t guards;
static bool supply = true;
static uint8_t eeprom[EEPROM_BYTES];
static bool hung, restarted;

uint8_t port_send_ring[SEND_BYTES];
static uint8_t send_in, send_out;

/* ---- the port ---- */

uint8_t port_guards(void) {
    return guards;
}

bool port_supply(void) {
    return supply;
}

uint32_t port_micros(void) {
    return (uint32_t)((now - started_at) / CYCLES_PER_US);
}

void port_energise(bool on) {
    bench_enabled(on);
}

uint32_t port_turn(bool to_up, uint32_t ticks) {
    up = to_up;
    motion.turning = true;
    step_at = now + (uint64_t)ticks * CYCLES_PER_TICK;
    return (uint32_t)((step_at - started_at) / CYCLES_PER_US);
}

uint32_t port_micros_at(int32_t *position) {
    *position = motion.position;
    return port_micros();
}

/* Whoever asks again and again waits: time passes here then. At a start it is not counted,
 * as the chip's clock begins later. */
bool port_eeprom_ready(void) {
    static uint64_t asked_at;
    static unsigned asked;
    if (now < eeprom_at && started_at == now) {
        started_at = now = eeprom_at;
    } else if (now < eeprom_at && asked_at == now && ++asked > 16) {
        now = eeprom_at;
    }
    asked = asked_at == now ? asked : 0;
    asked_at = now;
    return now >= eeprom_at;
}

uint8_t port_eeprom_read(uint16_t at) {
    if (now < eeprom_at) {
        fprintf(stderr, "the memory is read while a write goes on\n");
        exit(3);
    }
    return eeprom[at];
}

void port_eeprom_write(uint16_t at, uint8_t byte) {
    if (motion.turning) {
        fprintf(stderr, "the memory is written while the motor turns\n");
        exit(3);
    }
    eeprom[at] = byte;
    eeprom_at = now + EEPROM_CYCLES;
}

uint8_t port_send_at(void) {
    return send_in;
}

uint8_t port_send_room(void) {
    return (uint8_t)(SEND_BYTES - 1 - ((send_in - send_out) & (int)(SEND_BYTES - 1)));
}

void port_send_until(uint8_t end) {
    if (send_in == send_out) {
        send_at = now + BYTE_CYCLES;
    }
    send_in = end;
}

enum encoder port_encoder(uint16_t *angle) {
    *angle = 0;
    if (!bench_has_encoder()) {
        return ENCODER_NONE;
    }
    return bench_encoder(angle) ? ENCODER_OK : ENCODER_NO_MAGNET;
}

uint16_t port_overruns(void) {
    return 0;
}

/* ---- the machine ---- */

static void start(enum cause cause) {
    send_in = send_out = 0;
    step_at = NEVER;
    hung = false;
    started_at = now;
    jig_start(cause);
}

void machine_start(const char *image) {
    (void)image;
    memset(eeprom, 0xFF, sizeof eeprom);
    start(CAUSE_POWER);
}

void machine_restart(enum restart why, bool clobber) {
    static const enum cause causes[] = {CAUSE_POWER, CAUSE_EXTERNAL, CAUSE_BROWN_OUT, CAUSE_UNKNOWN};
    if (clobber) {
        noinit_note(0xFFFF, 0, 0);
        motion.position = 12345;
    }
    restarted = true;
    start(causes[why]);
}

uint64_t machine_now(void) {
    return now;
}

static void step(void) {
    if (!motion.turning || !motion_look(port_guards())) {
        step_at = NEVER;
        return;
    }
    restarted = false;
    bench_stepped(up); /* which may start the jig anew */
    if (restarted) {
        return;
    }
    uint32_t ticks = motion_step();
    step_at = ticks == 0 ? NEVER : step_at + (uint64_t)ticks * CYCLES_PER_TICK;
}

void machine_run(uint64_t until) {
    while (now < until) {
        uint64_t next = now + LOOP_CYCLES < until ? now + LOOP_CYCLES : until;
        while (step_at <= next) {
            now = step_at > now ? step_at : now;
            step();
        }
        now = next;
        while (send_in != send_out && send_at <= now) {
            bench_sent(port_send_ring[send_out]);
            send_out = (uint8_t)((send_out + 1U) & (SEND_BYTES - 1));
            send_at += BYTE_CYCLES;
        }
        if (!hung) {
            jig_run();
        }
    }
}

void machine_receive(uint8_t byte) {
    if (!hung) {
        jig_hear(byte);
    }
}

void machine_hold(uint8_t held) {
    guards = held;
}

void machine_supply(bool there) {
    supply = there;
}

void machine_hang(void) {
    hung = true;
}

void machine_spoil(uint16_t at, uint8_t byte) {
    eeprom[at] = byte;
}

void machine_watch(void) {
}

void machine_figures(void) {
    printf("none\n");
}
