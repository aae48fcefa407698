/* The machine that runs the compiled image, by simavr. */
#include "machine.h"
#include <inttypes.h>
#include <simavr/avr_eeprom.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_twi.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* As avr/board.h wires them. */
#define GUARD_PINS 0x0FU
#define PIN_SUPPLY 5
#define PIN_STEP 6
#define PIN_DIR 7
#define PIN_ENABLE 0

#define MCUSR 0x54U /* in data memory */
#define SREG_I 7
#define RAM 0x100U
#define RAM_BYTES 2048U
#define STEP_VECTOR 11U

static elf_firmware_t firmware;
static avr_t *avr;
static uint64_t before; /* cycles of earlier starts */
static uint8_t guards;
static bool up, watchdog_bit;

/* ---- figures ---- */

static uint64_t off_since;
static unsigned off_by; /* vector that switched interrupts off, 0: the program itself */
static uint64_t longest_off, longest_step, longest_interrupt;
static uint64_t pulse_from, shortest_pulse = UINT64_MAX;
static uint64_t lowest_stack = 0xFFFF;

uint64_t machine_now(void) {
    return before + avr->cycle;
}

static bool watched; /* instruction by instruction, which is slow */

/* After each instruction: for how long interrupts were off, and by what. */
static void watch_interrupts(bool was_on) {
    bool on = avr->sreg[SREG_I] != 0;
    if (was_on && !on) {
        off_since = avr->cycle;
        /* an interrupt jumps to its vector, of four bytes */
        off_by = avr->pc < 26 * 4 && avr->pc % 4 == 0 ? avr->pc / 4 : 0;
    } else if (!was_on && on && off_since != 0) {
        uint64_t lasted = avr->cycle - off_since;
        if (off_by == STEP_VECTOR) {
            longest_step = lasted > longest_step ? lasted : longest_step;
        } else {
            longest_off = lasted > longest_off ? lasted : longest_off;
        }
        if (off_by != 0 && lasted > longest_interrupt) {
            longest_interrupt = lasted;
        }
    }
    uint64_t stack = avr->data[0x5D] | (uint64_t)avr->data[0x5E] << 8;
    if (stack > RAM && stack < lowest_stack) {
        lowest_stack = stack;
    }
}

void machine_watch(void) {
    watched = true;
}

void machine_figures(void) {
    printf("step-interrupt %" PRIu64 " other-off %" PRIu64 " interrupt %" PRIu64 " stack %" PRIu64 " shortest-pulse %" PRIu64 "\n",
           longest_step, longest_off, longest_interrupt, RAM + RAM_BYTES - 1 - lowest_stack, shortest_pulse);
}

/* ---- pins ---- */

static void on_sent(struct avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    bench_sent((uint8_t)value);
}

static void on_step(struct avr_irq_t *irq, uint32_t value, void *param) {
    (void)param;
    if (value && !irq->value) {
        pulse_from = avr->cycle;
        bench_stepped(up);
    } else if (!value && irq->value && avr->cycle - pulse_from < shortest_pulse) {
        shortest_pulse = avr->cycle - pulse_from;
    }
}

static void on_dir(struct avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    up = value != 0;
}

static void on_enable(struct avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    bench_enabled(value == 0);
}

static bool supply = true;

static void set_supply(void) {
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), PIN_SUPPLY), supply);
}

static void set_guards(void) {
    avr_ioport_external_t external = {.name = 'C', .mask = GUARD_PINS, .value = guards};
    avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL('C'), &external);
    for (int i = 0; i < 4; i++) {
        avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('C'), i), (guards >> i) & 1);
    }
}

/* ---- the encoder on the two-wire bus ---- */

static avr_irq_t *bus;
static uint8_t chosen_register;
static bool selected, reading, register_given;

static void bus_says(uint32_t what, uint8_t data) {
    avr_raise_irq(bus + TWI_IRQ_INPUT, avr_twi_irq_msg((uint8_t)what, 0x36 << 1, data));
}

static uint8_t register_value(void) {
    uint16_t angle;
    bool magnet = bench_encoder(&angle);
    switch (chosen_register++) {
    case 0x0B:
        return magnet ? 0x20 : 0x00;
    case 0x0C:
        return (uint8_t)(angle >> 8);
    case 0x0D:
        return (uint8_t)angle;
    default:
        return 0;
    }
}

static void on_bus(struct avr_irq_t *irq, uint32_t value, void *param) {
    (void)irq, (void)param;
    avr_twi_msg_irq_t m = {.u.v = value};
    if (m.u.twi.msg & TWI_COND_STOP) {
        selected = false;
    }
    if (m.u.twi.msg & TWI_COND_START) {
        selected = bench_has_encoder() && m.u.twi.addr >> 1 == 0x36;
        reading = m.u.twi.addr & 1;
        register_given = false;
        if (selected) {
            bus_says(TWI_COND_ACK, 1);
        }
        return;
    }
    if (!selected) {
        return;
    }
    if (m.u.twi.msg & TWI_COND_WRITE) {
        bus_says(TWI_COND_ACK, 1);
        if (!register_given) {
            chosen_register = m.u.twi.data;
            register_given = true;
        }
    }
    if (m.u.twi.msg & TWI_COND_READ && reading) {
        bus_says(TWI_COND_READ, register_value());
    }
}

/* ---- non-volatile memory ---- */

/* simavr writes it in no time. The data sheet has 3.4 ms, in which EEPE stays set. */
#define EECR 0x3FU
#define EEMPE 4U
#define EEPE 2U
#define EERE 1U
#define WRITE_CYCLES 54400U

static uint64_t write_until; /* a reset does not end it */

static avr_cycle_count_t write_busy(avr_t *a, avr_cycle_count_t when, void *param) {
    (void)when, (void)param;
    a->data[EECR] |= EEPE;
    return 0;
}

static avr_cycle_count_t write_over(avr_t *a, avr_cycle_count_t when, void *param) {
    (void)when, (void)param;
    a->data[EECR] &= (uint8_t)~EEPE;
    return 0;
}

static void on_eecr(avr_t *a, avr_io_addr_t at, uint8_t value, void *param) {
    (void)at, (void)param; /* simavr's own part sees to the register */
    if ((value & EERE) != 0 && machine_now() < write_until) {
        fprintf(stderr, "the memory is read while a write goes on\n");
        exit(3);
    }
    if ((value & (EEPE | EEMPE)) == (EEPE | EEMPE)) {
        avr_cycle_timer_register(a, 1, write_busy, NULL);
        avr_cycle_timer_register(a, WRITE_CYCLES, write_over, NULL);
        write_until = machine_now() + WRITE_CYCLES;
    }
}

static void go_on_writing(void) {
    if (machine_now() < write_until) {
        write_busy(avr, 0, NULL);
        avr_cycle_timer_register(avr, write_until - machine_now(), write_over, NULL);
    }
}

/* ---- starting ---- */

static void on_reset(avr_t *a) {
    (void)a;
    watchdog_bit = true;
}

static void never_sleep(avr_t *a, avr_cycle_count_t cycles) {
    (void)a, (void)cycles;
}

static void make(uint8_t cause, const uint8_t *ram, uint8_t *eeprom) {
    avr = avr_make_mcu_by_name("atmega328p");
    if (avr == NULL || avr_init(avr) != 0) {
        fprintf(stderr, "simavr knows no atmega328p\n");
        exit(2);
    }
    avr->log = LOG_ERROR;
    avr->sleep = never_sleep;
    avr_load_firmware(avr, &firmware);
    avr->frequency = CYCLES_PER_SECOND;
    if (ram != NULL) {
        memcpy(avr->data + RAM, ram, RAM_BYTES);
    } else {
        memset(avr->data + RAM, 0xC5, RAM_BYTES); /* as it may be after power on */
    }
    avr->data[MCUSR] = cause;
    avr_eeprom_desc_t all = {.ee = eeprom, .offset = 0, .size = 1024};
    avr_ioctl(avr, AVR_IOCTL_EEPROM_SET, &all);

    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
    flags &= (uint32_t) ~(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_sent, NULL);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), PIN_STEP), on_step, NULL);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), PIN_DIR), on_dir, NULL);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('B'), PIN_ENABLE), on_enable, NULL);
    bus = avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), 0);
    avr_irq_register_notify(bus + TWI_IRQ_OUTPUT, on_bus, NULL);
    avr_register_io_write(avr, EECR, on_eecr, NULL);
    set_guards();
    set_supply();
    watchdog_bit = false;
    avr->reset = on_reset;
    off_since = 0;
    bench_enabled(false);
}

void machine_start(const char *image) {
    uint8_t eeprom[1024];
    memset(eeprom, 0xFF, sizeof eeprom);
    if (elf_read_firmware(image, &firmware) != 0) {
        fprintf(stderr, "%s: not an image\n", image);
        exit(2);
    }
    make(1, NULL, eeprom);
}

static void again(uint8_t cause, bool forget) {
    uint8_t eeprom[1024], ram[RAM_BYTES];
    avr_eeprom_desc_t all = {.ee = eeprom, .offset = 0, .size = sizeof eeprom};
    avr_ioctl(avr, AVR_IOCTL_EEPROM_GET, &all);
    memcpy(ram, avr->data + RAM, sizeof ram);
    before += avr->cycle;
    /* the old chip is left as it is: simavr has no way to take it back whole */
    make(cause, forget ? NULL : ram, eeprom);
    go_on_writing();
}

static int wanted = -1;
static bool wanted_clobber;

void machine_restart(enum restart why, bool clobber) {
    avr->run_cycle_count = 1; /* not a cycle later than need be */
    wanted = (int)why;
    wanted_clobber = clobber;
}

static void restart_now(void) {
    static const uint8_t flags[] = {1, 2, 4, 0};
    int why = wanted;
    wanted = -1;
    again(flags[why], why == RESTART_POWER || why == RESTART_BROWN_OUT || wanted_clobber);
}

/* The last two bytes of the program memory become a jump to themselves. */
static bool hanging;

void machine_hang(void) {
    avr->run_cycle_count = 1;
    hanging = true;
}

static void hang_now(void) {
    hanging = false;
    avr->flash[avr->flashend - 1] = 0xFF;
    avr->flash[avr->flashend] = 0xCF;
    avr->pc = avr->flashend - 1;
    avr->sreg[SREG_I] = 0;
    avr->state = cpu_Running;
}

/* ---- running ---- */

void machine_run(uint64_t until) {
    if (wanted >= 0) {
        restart_now();
    }
    while (machine_now() < until) {
        bool on = avr->sreg[SREG_I] != 0;
        uint64_t left = until - machine_now();
        avr->run_cycle_limit = watched ? 1 : left;
        int state = avr_run(avr);
        if (state == cpu_Crashed || state == cpu_Done) {
            fprintf(stderr, "the program crashed at %x\n", (unsigned)avr->pc);
            exit(3);
        }
        if (watchdog_bit) {
            again(8, false);
            continue;
        }
        if (watched) {
            watch_interrupts(on);
        }
        if (wanted >= 0) {
            restart_now();
        }
        if (hanging) {
            hang_now();
        }
    }
}

void machine_receive(uint8_t byte) {
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), byte);
}

void machine_hold(uint8_t held) {
    guards = held;
    set_guards();
}

void machine_supply(bool there) {
    supply = there;
    set_supply();
}

void machine_spoil(uint16_t at, uint8_t byte) {
    avr_eeprom_desc_t one = {.ee = &byte, .offset = at, .size = 1};
    avr_ioctl(avr, AVR_IOCTL_EEPROM_SET, &one);
}
