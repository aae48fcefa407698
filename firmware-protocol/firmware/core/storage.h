/* Where things stand that are not ordinary data: constants that stay in program
 * memory, and data that a reset leaves as it was. */
#ifndef STORAGE_H
#define STORAGE_H

#ifdef __AVR__
#include <avr/pgmspace.h>
#define FLASH PROGMEM
#define SURVIVES __attribute__((section(".noinit")))
#define FLASH_U16(at) pgm_read_word(at)
#else
#define FLASH
#define SURVIVES
#define FLASH_U16(at) (*(at))
#endif

#endif
