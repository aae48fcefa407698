/* Orders from standard input, one a line, one line of answer each:
 *
 *   run CYCLES          lets time pass
 *   send HEX            bytes on the line to the jig, at its speed
 *   await CYCLES        lets time pass until a frame from the jig has ended and nothing
 *                       is on its way to it, or so long at most
 *   hold BITS           inputs held: 1 stop, 2 and 4 limits, 8 stall
 *   supply 0|1           the motor's supply is cut, or there
 *   restart CAUSE       power, external, brown-out, untold; clobber: untold, data lost
 *   hang                the program no longer goes on
 *   spoil AT BYTE       a byte of the non-volatile memory
 *   ends LO HI          end stops of the screw, microsteps
 *   friction N          microsteps by which the rotor lags
 *   encoder BITS PLAY   1 fitted, 2 its magnet is there; microsteps of play
 *   at step N ORDER     an order when so many steps have been made in all
 *   at cycle N ORDER    or at a time
 *   trace FILE          a VCD file of what the pins do from now on; empty ends it
 *   watch               counts from now on what figures tells, which is slow
 *   figures             figures of the machine
 *
 * The answer is: ok CYCLE SHAFT FIELD STEPS LAST ENABLED HEX, where LAST is the cycle
 * of the last step and HEX what the jig has sent since the answer before. End of
 * input ends the process. */
#include "machine.h"
#include "mechanics.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* 115,200 baud: 10 bits in 1,388.9 cycles; the simulated receiver takes 11. */
#define BYTE_CYCLES 1500U
#define LINE_BYTES 65536U
#define SENT_BYTES 65536U
#define WHEN_MOST 16

static struct mechanics screw;
static uint64_t steps, last_step;
static bool enabled, encoder_fitted, magnet;
static uint8_t held, stall;

static uint8_t line[LINE_BYTES]; /* on the way to the jig */
static size_t line_in, line_out;
static uint64_t line_free; /* when the next byte may arrive */

static uint8_t sent[SENT_BYTES];
static size_t sent_n;
static unsigned frames; /* that have ended */

static struct when {
    bool by_step;
    uint64_t n;
    char order[64];
} whens[WHEN_MOST];
static int when_n;

static FILE *trace;
static uint64_t traced_at = UINT64_MAX;

static void fail(const char *why, const char *what) {
    fprintf(stderr, "%s: %s\n", why, what);
    exit(2);
}

/* ---- trace ---- */

static void trace_pin(char pin, bool high) {
    if (trace == NULL) {
        return;
    }
    if (machine_now() != traced_at) {
        traced_at = machine_now();
        fprintf(trace, "#%" PRIu64 "\n", traced_at);
    }
    fprintf(trace, "%d%c\n", high, pin);
}

static void trace_to(const char *file) {
    if (trace != NULL) {
        fclose(trace);
        trace = NULL;
    }
    if (*file == '\0') {
        return;
    }
    trace = fopen(file, "w");
    if (trace == NULL) {
        fail("cannot write", file);
    }
    fprintf(trace, "$timescale 62500 ps $end\n$scope module jig $end\n"
                   "$var wire 1 s step $end\n$var wire 1 u up $end\n"
                   "$var wire 1 e enabled $end\n$var wire 1 g guard $end\n"
                   "$upscope $end\n$enddefinitions $end\n");
    trace_pin('e', enabled);
}

/* ---- what the machine tells ---- */

void bench_sent(uint8_t byte) {
    if (sent_n == SENT_BYTES) {
        fail("the jig has sent too much", "ask more often");
    }
    sent[sent_n++] = byte;
    if (byte == 0) {
        frames++;
    }
}

static void apply_holds(void) {
    uint8_t all = held | stall;
    machine_hold(all);
    trace_pin('g', all != 0);
}

static void due(bool by_step, uint64_t now);

void bench_stepped(bool up) {
    steps++;
    last_step = machine_now();
    mechanics_step(&screw, up);
    trace_pin('u', up);
    trace_pin('s', true);
    if (trace != NULL) {
        trace_pin('s', false);
    }
    uint8_t now = mechanics_stalled(&screw) ? 8 : 0;
    if (now != stall) {
        stall = now;
        apply_holds();
    }
    due(true, steps);
}

void bench_enabled(bool on) {
    enabled = on;
    trace_pin('e', on);
}

bool bench_has_encoder(void) {
    return encoder_fitted;
}

bool bench_encoder(uint16_t *angle) {
    *angle = mechanics_angle(&screw);
    return magnet;
}

/* ---- orders ---- */

static void order(char *text);

static void due(bool by_step, uint64_t now) {
    for (int i = 0; i < when_n;) {
        if (whens[i].by_step != by_step || now < whens[i].n) {
            i++;
            continue;
        }
        struct when w = whens[i];
        whens[i] = whens[--when_n];
        order(w.order);
    }
}

/* Lets time pass until then, or until a frame has come where one is awaited. */
static void run(uint64_t until, bool awaited) {
    unsigned before = frames;
    while (machine_now() < until && !(awaited && frames != before && line_out == line_in)) {
        uint64_t next = until;
        if (awaited && next > machine_now() + BYTE_CYCLES) {
            next = machine_now() + BYTE_CYCLES;
        }
        if (line_out != line_in && line_free < next) {
            next = line_free;
        }
        for (int i = 0; i < when_n; i++) {
            if (!whens[i].by_step && whens[i].n < next) {
                next = whens[i].n;
            }
        }
        if (next > machine_now()) {
            machine_run(next);
        }
        due(false, machine_now());
        if (line_out != line_in && machine_now() >= line_free) {
            machine_receive(line[line_out++ % LINE_BYTES]);
            line_free = machine_now() + BYTE_CYCLES;
        }
    }
}

static void queue(const char *hex) {
    unsigned byte;
    if (line_free < machine_now() + BYTE_CYCLES) {
        line_free = machine_now() + BYTE_CYCLES;
    }
    for (; sscanf(hex, "%2x", &byte) == 1; hex += 2) {
        if (line_in - line_out == LINE_BYTES) {
            fail("too many bytes on the line", "send fewer");
        }
        line[line_in++ % LINE_BYTES] = (uint8_t)byte;
    }
}

static void restart(const char *cause) {
    static const char *names[] = {"power", "external", "brown-out", "untold"};
    if (strcmp(cause, "clobber") == 0) {
        machine_restart(RESTART_UNTOLD, true);
        return;
    }
    for (int i = 0; i < 4; i++) {
        if (strcmp(cause, names[i]) == 0) {
            machine_restart((enum restart)i, false);
            return;
        }
    }
    fail("unknown cause", cause);
}

static void later(const char *what) {
    char kind[8];
    int rest = 0;
    if (when_n == WHEN_MOST || sscanf(what, "%7s %" SCNu64 " %n", kind, &whens[when_n].n, &rest) < 2 ||
        strlen(what + rest) >= sizeof whens[0].order) {
        fail("cannot be kept for later", what);
    }
    whens[when_n].by_step = strcmp(kind, "step") == 0;
    strcpy(whens[when_n].order, what + rest);
    when_n++;
}

/* Carries out one order. */
static void order(char *text) {
    char *rest = strchr(text, ' ');
    if (rest != NULL) {
        *rest++ = '\0';
    } else {
        rest = text + strlen(text);
    }
    if (strcmp(text, "run") == 0) {
        run(machine_now() + strtoull(rest, NULL, 10), false);
    } else if (strcmp(text, "await") == 0) {
        run(machine_now() + strtoull(rest, NULL, 10), true);
    } else if (strcmp(text, "send") == 0) {
        queue(rest);
    } else if (strcmp(text, "hold") == 0) {
        held = (uint8_t)strtoul(rest, NULL, 10);
        apply_holds();
    } else if (strcmp(text, "supply") == 0) {
        machine_supply(strtoul(rest, NULL, 10) != 0);
    } else if (strcmp(text, "restart") == 0) {
        restart(rest);
    } else if (strcmp(text, "hang") == 0) {
        machine_hang();
    } else if (strcmp(text, "spoil") == 0) {
        char *end;
        uint16_t at = (uint16_t)strtoul(rest, &end, 10);
        machine_spoil(at, (uint8_t)strtoul(end, NULL, 10));
    } else if (strcmp(text, "ends") == 0) {
        screw.lo = strtoll(rest, &rest, 10);
        screw.hi = strtoll(rest, NULL, 10);
    } else if (strcmp(text, "friction") == 0) {
        screw.friction = strtoll(rest, NULL, 10);
    } else if (strcmp(text, "encoder") == 0) {
        unsigned long bits = strtoul(rest, &rest, 10);
        encoder_fitted = (bits & 1) != 0;
        magnet = (bits & 2) != 0;
        screw.play = strtoll(rest, NULL, 10);
    } else if (strcmp(text, "at") == 0) {
        later(rest);
    } else if (strcmp(text, "trace") == 0) {
        trace_to(rest);
    } else if (strcmp(text, "watch") == 0) {
        machine_watch();
    } else if (strcmp(text, "figures") == 0) {
        machine_figures();
    } else {
        fail("unknown order", text);
    }
}

static void answer(void) {
    printf("ok %" PRIu64 " %" PRId64 " %" PRId64 " %" PRIu64 " %" PRIu64 " %s ", machine_now(),
           mechanics_shaft(&screw), screw.field, steps, last_step, enabled ? "true" : "false");
    for (size_t i = 0; i < sent_n; i++) {
        printf("%02x", sent[i]);
    }
    sent_n = 0;
    putchar('\n');
    fflush(stdout);
}

int main(int argc, char **argv) {
    static char text[2 * LINE_BYTES + 16];
    mechanics_start(&screw);
    machine_start(argc > 1 ? argv[1] : "");
    while (fgets(text, sizeof text, stdin) != NULL) {
        text[strcspn(text, "\n")] = '\0';
        order(text);
        answer();
    }
    return 0;
}
