/* The shaft's encoder: a 12-bit magnetic one at address 36 of the two-wire bus, with
 * its status at 0B and its raw angle at 0C and 0D, as the AS5600 has them. */
#ifndef ENCODER_H
#define ENCODER_H

void encoder_start(void);
/* Goes on with reading, without waiting. */
void encoder_run(void);

#endif
