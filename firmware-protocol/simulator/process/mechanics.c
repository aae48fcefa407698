#include "mechanics.h"

#define MICROSTEPS_PER_TURN 3200
#define FULL_STEP 16
/* A rotor that is held lags until its torque falls with the angle, beyond one full
 * step; beyond two it jumps back by four, to the next place where the field holds it
 * (common practice, no source). */
#define MOST_LAG (2 * FULL_STEP)
#define FALLS_BACK (4 * FULL_STEP)
#define SEEN_LAG (FULL_STEP + FULL_STEP / 2)

void mechanics_start(struct mechanics *m) {
    *m = (struct mechanics){.lo = INT64_MIN / 2, .hi = INT64_MAX / 2};
}

static int64_t within(int64_t x, int64_t lo, int64_t hi) {
    return x < lo ? lo : x > hi ? hi : x;
}

static int64_t lag(const struct mechanics *m) {
    return m->field - m->slipped - m->rotor;
}

/* The rotor is drawn along by the field once it lags by what friction takes. */
static void follow(struct mechanics *m) {
    int64_t wanted = m->field - m->slipped;
    m->rotor = within(within(m->rotor, wanted - m->friction, wanted + m->friction), m->lo, m->hi);
}

void mechanics_step(struct mechanics *m, bool up) {
    m->field += up ? 1 : -1;
    follow(m);
    if (lag(m) > MOST_LAG) {
        m->slipped += FALLS_BACK;
        follow(m);
    } else if (lag(m) < -MOST_LAG) {
        m->slipped -= FALLS_BACK;
        follow(m);
    }
    m->shown = within(m->shown, m->rotor - m->play / 2, m->rotor + m->play / 2);
}

int64_t mechanics_shaft(const struct mechanics *m) {
    return m->rotor;
}

bool mechanics_stalled(const struct mechanics *m) {
    int64_t l = lag(m);
    return l > SEEN_LAG || l < -SEEN_LAG;
}

uint16_t mechanics_angle(const struct mechanics *m) {
    int64_t in_turn = m->shown % MICROSTEPS_PER_TURN;
    if (in_turn < 0) {
        in_turn += MICROSTEPS_PER_TURN;
    }
    return (uint16_t)(in_turn * 4096 / MICROSTEPS_PER_TURN);
}
