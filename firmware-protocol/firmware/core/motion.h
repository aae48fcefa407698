/* One way of the motor at a time: steps along a trapezoid of speed. The part below
 * runs in the step interrupt, the rest outside it. */
#ifndef MOTION_H
#define MOTION_H

#include <stdbool.h>
#include <stdint.h>

/* Reasons of LINK.md, section 3. */
enum reason {
    REASON_NONE, REASON_DONE, REASON_ORDER, REASON_LIMIT, REASON_STOP_INPUT, REASON_STALL,
    REASON_FAULT, REASON_SILENCE, REASON_RESET
};

struct motion {
    int32_t position;
    int8_t direction;
    uint8_t guards;    /* inputs that end this motion */
    bool turning;      /* set and cleared last, and in one go */
    uint8_t brake;     /* a reason to slow down from the next step on, or none */
    uint8_t reason;    /* of the end that is under way or was */
    bool lost;         /* it ended faster than the motor can */
    uint32_t to_go;    /* steps, with the one waited for */
    uint16_t ramp;     /* steps of ramp that the speed is worth */
    uint32_t interval; /* to the step waited for, ticks */
    uint32_t cruise;   /* shortest interval of this motion */
};

extern volatile struct motion motion;

/* In the step interrupt before each pulse, and outside it: ends the motion if it runs
 * against one of the guards held. True if the motor turns and may go on. */
bool motion_look(uint8_t held);

/* In the step interrupt, after the pulse: ticks from that step to the next, 0 where
 * there is none. */
uint32_t motion_step(void);

/* Before the first motion, and while none turns: direction, the ramp's intervals in 256ths
 * of those in ramp.h, and the start-stop rate. */
void motion_configure(bool reversed, uint16_t stretch, uint16_t start_stop);

/* Outside. What the step interrupt may change meanwhile is touched in one go, or only
 * when it no longer turns: the interrupt need not be kept out. motion_begin returns the
 * microsecond in which the first step is due. */
uint32_t motion_begin(int32_t target, uint16_t speed, uint8_t guards);
void motion_brake(enum reason);
void motion_halt(enum reason);

#endif
