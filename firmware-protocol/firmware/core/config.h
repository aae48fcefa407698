/* What board and motor this image is for. Angles are microsteps of the motor,
 * speeds microsteps per second. ramp.h follows from TICK_HZ, MAX_SPEED and ACCEL; make
 * renews it. */
#ifndef CONFIG_H
#define CONFIG_H

#define TICK_HZ 2000000UL /* of the step timer */

#define FULL_STEPS_PER_TURN 200UL
#define MICROSTEPS 16U /* per full step, for which the figures below hold */
#define MAX_SPEED 6000U
#define ACCEL 60000UL /* microsteps per second squared */
#define START_STOP 1600U
#define CURRENT_MA 200U /* unless settings say otherwise */

#define FIRMWARE_NAME "headtrue" /* 8 bytes */
#define FIRMWARE_MAJOR 1
#define FIRMWARE_MINOR 3

#endif
