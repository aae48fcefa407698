/* A second bench for the image: it sends random frames and resets, counts the pulses on the
 * pins, and holds what the jig says against them. It shares no code with the firmware or
 * with ../process: frames are written here anew, from LINK.md.
 *
 *   jig-pins IMAGE FRAMES RESETS SEED
 *
 * Breaches are: a step beyond the window, with it closed or with the driver off; a copy of a
 * move that turns again after a stop; a position called kept that is not where the pins
 * are; a number of a count given twice; a window that nobody has set; no answer. The first one ends the process with 1. */
#include <inttypes.h>
#include <simavr/avr_eeprom.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MS 16000ULL /* cycles */
#define BYTE_TIME 1400ULL

static elf_firmware_t firmware;
static avr_t *chip;
static uint64_t past; /* cycles of earlier starts */

/* What the pins did. */
static bool up, driver_on;
static int64_t pins; /* microsteps since the beginning */
static uint64_t pulses;

/* What the host has ordered and was told. */
static int64_t zero_of[65536]; /* pins at count 0, by epoch */
static bool given[65536];
static uint16_t epoch;
static int32_t lo = 1, hi = 0;
#define WINDOWS 4
static int32_t windows[WINDOWS][2]; /* the last ones set */
static unsigned next_window;
static int64_t zero;      /* of the present count */
static uint8_t sequence;
static unsigned frames, resets, moves, copies, checks, doubts;

static uint64_t now(void) { return past + chip->cycle; }

static void breach(const char *format, ...) {
    va_list args;
    va_start(args, format);
    printf("BREACH after %u frames, %u resets: ", frames, resets);
    vprintf(format, args);
    va_end(args);
    putchar('\n');
    exit(1);
}

/* ---- random numbers: xorshift64* (Vigna 2016) ---- */

static uint64_t random_state;

static uint32_t draw(uint32_t below) {
    random_state ^= random_state >> 12;
    random_state ^= random_state << 25;
    random_state ^= random_state >> 27;
    return (uint32_t)((random_state * 0x2545F4914F6CDD1DULL) >> 33) % below;
}

/* ---- pins ---- */

static void on_step(struct avr_irq_t *irq, uint32_t value, void *param) {
    (void)param;
    if (!value || irq->value) {
        return;
    }
    pins += up ? 1 : -1;
    pulses++;
    int64_t count = pins - zero;
    if (!driver_on) {
        breach("a step with the driver off");
    }
    if (lo > hi) {
        breach("a step with a closed window");
    }
    if ((up && count > hi) || (!up && count < lo)) {
        breach("a step to %" PRId64 ", outside %d to %d", count, lo, hi);
    }
}

static void on_dir(struct avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    up = value != 0;
}

static void on_enable(struct avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    driver_on = value == 0;
}

/* ---- the line ---- */

static uint8_t heard[256];
static unsigned heard_n;
static uint8_t reply[80]; /* the last whole frame, unstuffed, without its checksum */
static unsigned reply_n, replies;

static uint16_t crc16(const uint8_t *b, unsigned n) {
    uint16_t crc = 0xFFFF;
    while (n-- > 0) {
        crc ^= (uint16_t)(*b++ << 8);
        for (int bit = 0; bit < 8; bit++) {
            crc = (uint16_t)(crc & 0x8000 ? crc << 1 ^ 0x1021 : crc << 1);
        }
    }
    return crc;
}

static void on_sent(struct avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    if (value != 0) {
        if (heard_n < sizeof heard) {
            heard[heard_n++] = (uint8_t)value;
        }
        return;
    }
    uint8_t plain[256];
    unsigned n = 0;
    for (unsigned i = 0; i < heard_n;) {
        unsigned length = heard[i++];
        for (unsigned k = 1; k < length && i < heard_n; k++) {
            plain[n++] = heard[i++];
        }
        if (i < heard_n) {
            plain[n++] = 0;
        }
    }
    heard_n = 0;
    if (n < 4 || n > sizeof reply || crc16(plain, n - 2) != (plain[n - 2] | plain[n - 1] << 8)) {
        return;
    }
    if (plain[0] & 0x80) { /* events tell nothing that a status does not */
        memcpy(reply, plain, n);
        reply_n = n - 2;
        replies++;
    }
}

/* ---- the chip ---- */

static uint64_t writing_until;

static avr_cycle_count_t write_begins(avr_t *a, avr_cycle_count_t when, void *param) {
    (void)when, (void)param;
    a->data[0x3F] |= 2;
    return 0;
}

static avr_cycle_count_t write_ends(avr_t *a, avr_cycle_count_t when, void *param) {
    (void)when, (void)param;
    a->data[0x3F] &= (uint8_t)~2U;
    return 0;
}

static void on_eecr(avr_t *a, avr_io_addr_t at, uint8_t value, void *param) {
    (void)at, (void)param;
    if ((value & 6) == 6) { /* a byte takes 3.4 ms, by the data sheet */
        avr_cycle_timer_register(a, 1, write_begins, NULL);
        avr_cycle_timer_register(a, 54400, write_ends, NULL);
        writing_until = now() + 54400;
    }
}

static void never_sleep(avr_t *a, avr_cycle_count_t cycles) { (void)a, (void)cycles; }

static avr_irq_t *pin(char port, int n) { return avr_io_getirq(chip, AVR_IOCTL_IOPORT_GETIRQ(port), n); }

static void make_chip(uint8_t cause, const uint8_t *ram, uint8_t *eeprom) {
    chip = avr_make_mcu_by_name("atmega328p");
    if (chip == NULL || avr_init(chip) != 0) {
        exit(2);
    }
    chip->log = LOG_ERROR;
    chip->sleep = never_sleep;
    avr_load_firmware(chip, &firmware);
    chip->frequency = 16000000;
    for (unsigned i = 0; i < 2048; i++) {
        chip->data[0x100 + i] = ram != NULL ? ram[i] : (uint8_t)draw(256);
    }
    chip->data[0x54] = cause;
    avr_eeprom_desc_t all = {.ee = eeprom, .offset = 0, .size = 1024};
    avr_ioctl(chip, AVR_IOCTL_EEPROM_SET, &all);
    uint32_t flags = 0;
    avr_ioctl(chip, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
    flags &= (uint32_t) ~(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(chip, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr_irq_register_notify(avr_io_getirq(chip, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_sent, NULL);
    avr_irq_register_notify(pin('D', 6), on_step, NULL);
    avr_irq_register_notify(pin('D', 7), on_dir, NULL);
    avr_irq_register_notify(pin('B', 0), on_enable, NULL);
    avr_register_io_write(chip, 0x3F, on_eecr, NULL);
    avr_ioport_external_t closed = {.name = 'C', .mask = 0x0F, .value = 0};
    avr_ioctl(chip, AVR_IOCTL_IOPORT_SET_EXTERNAL('C'), &closed);
    for (int i = 0; i < 4; i++) {
        avr_raise_irq(pin('C', i), 0);
    }
    driver_on = false; /* its resistor sees to that while the pins float */
    heard_n = 0;
}

static void run(uint64_t cycles) {
    for (uint64_t until = now() + cycles; now() < until;) {
        chip->run_cycle_limit = until - now();
        int state = avr_run(chip);
        if (state == cpu_Crashed || state == cpu_Done) {
            breach("the program crashed at %x", (unsigned)chip->pc);
        }
    }
}

static void reset(void) {
    static const uint8_t causes[] = {2, 2, 0, 1, 4}; /* external twice, hidden, power, brown-out */
    uint8_t cause = causes[draw(5)];
    uint8_t eeprom[1024], ram[2048];
    avr_eeprom_desc_t all = {.ee = eeprom, .offset = 0, .size = sizeof eeprom};
    avr_ioctl(chip, AVR_IOCTL_EEPROM_GET, &all);
    memcpy(ram, chip->data + 0x100, sizeof ram);
    past += chip->cycle;
    make_chip(cause, (cause & 5) != 0 ? NULL : ram, eeprom);
    if (now() < writing_until) { /* a write goes on through a reset */
        write_begins(chip, 0, NULL);
        avr_cycle_timer_register(chip, writing_until - now(), write_ends, NULL);
    }
    resets++;
    run(150 * MS);
}

/* ---- the host ---- */

static uint8_t wire[160];
static unsigned wire_n;

static void put_i32(uint8_t *b, int32_t v) {
    for (int i = 0; i < 4; i++) {
        b[i] = (uint8_t)((uint32_t)v >> (8 * i));
    }
}

static void frame(uint8_t type, uint8_t number, const uint8_t *body, unsigned n) {
    uint8_t plain[80] = {type, number};
    for (unsigned i = 0; i < n; i++) {
        plain[2 + i] = body[i];
    }
    uint16_t crc = crc16(plain, n + 2);
    plain[n + 2] = (uint8_t)crc;
    plain[n + 3] = (uint8_t)(crc >> 8);
    wire_n = 0;
    wire[wire_n++] = 0; /* a lone zero ends whatever is on the line */
    unsigned code = wire_n++;
    wire[code] = 1;
    for (unsigned i = 0; i < n + 4; i++) {
        if (plain[i] == 0) {
            code = wire_n++;
            wire[code] = 1;
        } else {
            wire[wire_n++] = plain[i];
            wire[code]++;
        }
    }
    wire[wire_n++] = 0;
}

static void send_wire(void) {
    frames++;
    for (unsigned i = 0; i < wire_n; i++) {
        avr_raise_irq(avr_io_getirq(chip, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), wire[i]);
        run(BYTE_TIME);
    }
}

static int32_t i32_at(unsigned at) {
    return (int32_t)((uint32_t)reply[at] | (uint32_t)reply[at + 1] << 8 | (uint32_t)reply[at + 2] << 16 | (uint32_t)reply[at + 3] << 24);
}

/* Sends a request and waits for its reply; returns the code. */
static uint8_t ask(uint8_t type, const uint8_t *body, unsigned n) {
    uint8_t number = ++sequence;
    for (int try = 0; try < 10; try++) {
        frame(type, number, body, n);
        send_wire();
        for (int i = 0; i < 100; i++) {
            if (reply_n >= 23 && reply[0] == (type | 0x80) && reply[1] == number) {
                uint8_t code = reply[2];
                reply[0] = 0;
                return code;
            }
            run(MS);
        }
    }
    breach("no answer to a request of type %u", type);
    return 0;
}

/* Bytes of a status in a reply. */
#define POSITION 9
#define FLAGS 17
#define MEMORY 18
#define EPOCH 19

static void status(void) { (void)ask(2, NULL, 0); }

static void stand(void) {
    for (int i = 0; i < 400; i++) {
        status();
        if ((reply[FLAGS] & 1) == 0) {
            return;
        }
        run(20 * MS);
    }
    breach("the motor does not come to stand");
}

/* Standing: a position that the jig calls kept must be that of the pins. */
static void check_position(void) {
    uint16_t e = (uint16_t)(reply[EPOCH] | reply[EPOCH + 1] << 8);
    checks++;
    if (reply[MEMORY] != 2) {
        doubts++;
        return;
    }
    if (!given[e]) {
        breach("kept, with the number %u, which was never given", e);
    }
    if (zero_of[e] + i32_at(POSITION) != pins) {
        breach("kept at %d of count %u, and the pins are at %" PRId64, i32_at(POSITION), e, pins - zero_of[e]);
    }
    epoch = e;
    zero = zero_of[e];
}

static void declare(void) {
    uint8_t body[8];
    int32_t position = (int32_t)draw(2000) - 1000;
    put_i32(body, position);
    if (ask(7, body, 4) != 0) {
        breach("a declaration is refused with %u", reply[2]);
    }
    uint16_t e = (uint16_t)(reply[EPOCH] | reply[EPOCH + 1] << 8);
    if (given[e]) {
        breach("the number %u is given again", e);
    }
    given[e] = true;
    epoch = e;
    zero = zero_of[e] = pins - position;
}

static void set_window(void) {
    uint8_t body[8];
    int32_t a = (int32_t)draw(1500) - 1500, b = (int32_t)draw(1500);
    put_i32(body, a);
    put_i32(body + 4, b);
    int32_t was_lo = lo, was_hi = hi;
    lo = a < was_lo ? a : was_lo; /* either may hold until the reply */
    hi = b > was_hi ? b : was_hi;
    if (ask(6, body, 8) == 0) {
        lo = a;
        hi = b;
        windows[next_window % WINDOWS][0] = a;
        windows[next_window++ % WINDOWS][1] = b;
    } else {
        lo = was_lo;
        hi = was_hi;
    }
}

static void energise(void) {
    uint8_t on = 1;
    if (ask(5, &on, 1) != 0) {
        breach("energise is refused with %u", reply[2]);
    }
}

/* After a start: compares the greeting of the jig with the pins. */
static void greet(void) {
    static const uint8_t version[] = {1, 4};
    if (ask(1, version, 2) != 0 || reply_n < 61) {
        breach("no greeting");
    }
    lo = i32_at(23 + 26);
    hi = i32_at(23 + 30);
    bool known = lo == 1 && hi == 0;
    for (int i = 0; i < WINDOWS; i++) { /* one whose writing was cut may be one before */
        known = known || (lo == windows[i][0] && hi == windows[i][1]);
    }
    if (!known) {
        breach("a window of %d to %d, which nobody has set", lo, hi);
    }
    if (driver_on) {
        breach("the driver is on after a start");
    }
    check_position();
    declare();
    set_window();
    energise();
}

static void move_body(uint8_t *body) {
    int32_t target = draw(8) == 0 ? (int32_t)(draw(2) ? INT32_MAX : INT32_MIN) : (int32_t)draw(5000) - 2500;
    put_i32(body, target);
    uint32_t speed = draw(4) == 0 ? draw(65536) : 500 + draw(5500);
    body[4] = (uint8_t)speed;
    body[5] = (uint8_t)(speed >> 8);
}

/* A move, a stop and the move's copy: it must not turn again. */
static void copy_after_stop(void) {
    uint8_t body[6], abrupt = (uint8_t)draw(2);
    move_body(body);
    uint8_t code = ask(3, body, 6), number = sequence;
    run(draw(120) * MS);
    (void)ask(4, &abrupt, 1);
    stand();
    if (draw(2)) {
        (void)ask(8, NULL, 0);
    }
    if (draw(2)) {
        energise();
    }
    uint64_t before = pulses;
    frame(3, number, body, 6);
    send_wire();
    run(150 * MS);
    copies++;
    if (pulses != before) {
        breach("a copy of a move (code %u) turned again after a stop", code);
    }
}

static void random_frame(void) {
    uint8_t body[64];
    switch (draw(8)) {
    case 0: /* noise */
        wire_n = draw(80);
        for (unsigned i = 0; i < wire_n; i++) {
            wire[i] = (uint8_t)draw(256);
        }
        break;
    case 1: { /* a move with bytes that are spoilt */
        move_body(body);
        frame(3, ++sequence, body, 6);
        wire[1 + draw(wire_n - 1)] ^= (uint8_t)(1 + draw(255));
        break;
    }
    case 2: /* a request that is unknown, too short or too long */
        for (unsigned i = 0; i < sizeof body; i++) {
            body[i] = (uint8_t)draw(256);
        }
        frame((uint8_t)(draw(2) ? 0x0B + draw(0x34) : 3 + draw(3)), ++sequence, body, draw(2) ? 0 : 40);
        if (wire[2] == 4 || wire[2] == 5) {
            return; /* with a body these are orders */
        }
        break;
    case 3:
        body[0] = (uint8_t)draw(2);
        frame(4, ++sequence, body, 1);
        break;
    default:
        move_body(body);
        frame(3, ++sequence, body, 6);
        moves++;
    }
    send_wire();
    if (draw(6) == 0) {
        send_wire(); /* twice */
    }
    run(draw(30) * MS);
}

int main(int argc, char **argv) {
    if (argc < 5 || elf_read_firmware(argv[1], &firmware) != 0) {
        fprintf(stderr, "usage: jig-pins IMAGE FRAMES RESETS SEED\n");
        return 2;
    }
    unsigned wanted = (unsigned)atoi(argv[2]), wanted_resets = (unsigned)atoi(argv[3]);
    random_state = 88172645463325252ULL + (uint64_t)atoll(argv[4]);
    uint8_t eeprom[1024];
    memset(eeprom, 0xFF, sizeof eeprom);
    make_chip(1, NULL, eeprom);
    run(150 * MS);
    greet();
    while (frames < wanted || resets < wanted_resets) {
        unsigned kind = draw(40);
        if (kind == 0) {
            copy_after_stop();
        } else if (kind < 3) {
            stand();
            check_position();
            declare();
            set_window();
            energise();
        } else {
            random_frame();
        }
        if ((uint64_t)resets * wanted < (uint64_t)wanted_resets * frames) {
            run(draw(200) * MS / 2 + draw(16000));
            reset();
            greet();
        }
    }
    stand();
    check_position();
    printf("%u frames, %u moves, %u copies after a stop, %u resets, %" PRIu64 " pulses, %u positions compared, %u of them not kept: no breach\n",
           frames, moves, copies, resets, pulses, checks, doubts);
    return 0;
}
