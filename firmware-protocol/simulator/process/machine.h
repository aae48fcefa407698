/* A jig's board that runs in simulated time, and what a bench does to it. Two make it:
 * avr.c runs the compiled image, ../firmware/host the core by itself. Time is in cycles
 * of 16 MHz since the process began; resets do not set it back. */
#ifndef MACHINE_H
#define MACHINE_H

#include <stdbool.h>
#include <stdint.h>

#define CYCLES_PER_SECOND 16000000ULL

enum restart { RESTART_POWER, RESTART_EXTERNAL, RESTART_BROWN_OUT, RESTART_UNTOLD };

/* The board is there, switched on for the first time. */
void machine_start(const char *image);
/* Starts again; UNTOLD is a reset whose cause a boot loader has hidden, and forgets
 * data memory if clobber is set. */
void machine_restart(enum restart, bool clobber);
/* Runs until a time. */
void machine_run(uint64_t until);
uint64_t machine_now(void);
/* A byte arrives on the line. */
void machine_receive(uint8_t byte);
/* Holds inputs: bits as in core/port.h. */
void machine_hold(uint8_t guards);
/* The motor's supply, as the divider shows it. */
void machine_supply(bool there);
/* The program no longer goes on. */
void machine_hang(void);
/* Counts from now on what machine_figures tells on one line; that may be slow. */
void machine_watch(void);
void machine_figures(void);
/* A byte of the non-volatile memory spoilt. */
void machine_spoil(uint16_t at, uint8_t byte);

/* Called by the machine. */
void bench_sent(uint8_t byte);
void bench_stepped(bool up);
void bench_enabled(bool on);
/* What the encoder's magnet shows: false where it is missing. */
bool bench_encoder(uint16_t *angle);
bool bench_has_encoder(void);

#endif
