#include "motion.h"
#include "config.h"
#include "port.h"
#include "ramp.h"
#include "storage.h"

_Static_assert(RAMP_TICK_HZ == TICK_HZ && RAMP_MAX_SPEED == MAX_SPEED && RAMP_ACCEL == ACCEL,
               "ramp.h was made for another config.h: run make");

/* Ticks from step n of an even acceleration to the next. */
static const uint16_t ramp_intervals[RAMP_STEPS] FLASH = {RAMP_INTERVALS};

volatile struct motion motion SURVIVES;

static bool backwards;
static uint16_t stretched; /* 256ths */
static uint32_t unsafe;    /* intervals below this lose steps when they end */

void motion_configure(bool reversed, uint16_t stretch, uint16_t start_stop) {
    backwards = reversed;
    stretched = stretch;
    unsafe = (uint32_t)TICK_HZ / start_stop;
}

static uint32_t ramp_interval(uint16_t n) {
    return (uint32_t)FLASH_U16(&ramp_intervals[n]) * stretched >> 8;
}

static void end(enum reason why) {
    motion.reason = (uint8_t)why;
    motion.turning = false;
}

bool motion_look(uint8_t held) {
    if (!motion.turning) {
        return false;
    }
    held &= motion.guards;
    if (held == 0) {
        return true;
    }
    motion_halt((held & GUARD_STOP) != 0    ? REASON_STOP_INPUT
                : (held & GUARD_STALL) != 0 ? REASON_STALL
                                            : REASON_LIMIT);
    return false;
}

uint32_t motion_step(void) {
    motion.position += motion.direction;
    uint16_t ramp = motion.ramp;
    uint32_t to_go = motion.to_go - 1;
    if (motion.brake != REASON_NONE && motion.reason == REASON_DONE) {
        motion.reason = motion.brake;
        if (to_go > ramp) {
            to_go = ramp;
        }
    }
    motion.to_go = to_go;
    if (to_go == 0) {
        end((enum reason)motion.reason);
        return 0;
    }
    uint32_t interval = motion.cruise;
    if (to_go <= ramp) { /* the way left is that of the ramp down */
        ramp = (uint16_t)(to_go - 1);
        interval = ramp_interval(ramp);
        if (interval < motion.cruise) {
            interval = motion.cruise;
        }
    } else if (ramp < RAMP_STEPS) {
        uint32_t faster = ramp_interval(ramp);
        if (faster > interval) {
            interval = faster;
            ramp++;
        }
    }
    motion.ramp = ramp;
    motion.interval = interval;
    return interval;
}

uint32_t motion_begin(int32_t target, uint16_t speed, uint8_t guards) {
    bool up = target > motion.position;
    motion.direction = up ? 1 : -1;
    motion.to_go = up ? (uint32_t)target - (uint32_t)motion.position : (uint32_t)motion.position - (uint32_t)target;
    motion.guards = guards;
    motion.cruise = (uint32_t)((TICK_HZ + speed - 1) / speed); /* not faster than ordered */
    uint32_t first = ramp_interval(0);
    motion.ramp = first > motion.cruise ? 1 : 0;
    motion.interval = first > motion.cruise ? first : motion.cruise;
    motion.lost = false;
    motion.brake = REASON_NONE;
    motion.reason = REASON_DONE;
    return port_turn(up != backwards, motion.interval);
}

void motion_brake(enum reason why) {
    if (!motion.turning || motion.reason != REASON_DONE) {
        return;
    }
    if (motion.cruise >= ramp_interval(0)) { /* so slow that it need not brake */
        end(why);
        return;
    }
    motion.brake = (uint8_t)why;
}

void motion_halt(enum reason why) {
    if (motion.turning) {
        end(why);
        motion.lost = motion.interval < unsafe || why == REASON_STALL;
    }
}
