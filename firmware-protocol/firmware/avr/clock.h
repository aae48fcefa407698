/* Timer 1: runs free at TICK_HZ. It gives the time and the steps. */
#ifndef CLOCK_H
#define CLOCK_H

void clock_start(void);

#endif
