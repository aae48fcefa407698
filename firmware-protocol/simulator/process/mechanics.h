/* Motor, coupling and screw behind the step pin. Angles are microsteps. */
#ifndef MECHANICS_H
#define MECHANICS_H

#include <stdbool.h>
#include <stdint.h>

struct mechanics {
    int64_t field;      /* where the motor's field stands */
    int64_t slipped;    /* how far the rotor has fallen behind it for good */
    int64_t rotor;      /* where the rotor stands, the shaft and the screw with it */
    int64_t lo, hi;     /* end stops of the screw */
    int64_t friction;   /* how far the rotor lags before it breaks loose */
    int64_t play;       /* of the encoder's magnet on the shaft */
    int64_t shown;      /* what the magnet stands at */
};

void mechanics_start(struct mechanics *);
/* The field goes on by one microstep. */
void mechanics_step(struct mechanics *, bool up);
/* Where the rotor stands. */
int64_t mechanics_shaft(const struct mechanics *);
/* Whether the rotor lags so far behind the field that a driver sees it. */
bool mechanics_stalled(const struct mechanics *);
/* 4096ths of a turn. */
uint16_t mechanics_angle(const struct mechanics *);

#endif
