/* One line of the framed format, as a board sends it: see frame_format.md.
 *
 * C99, no heap, no floating point, no printf: a small microcontroller spends a few hundred bytes of code on it and the
 * buffer below. It reads no converter and no clock and sends nothing; the board's own loop does.
 */
#ifndef TC_FRAME_H
#define TC_FRAME_H

#include <stddef.h>
#include <stdint.h>

/* Flags: what is wrong with this conversion. */
#define TC_OPEN 0x01u         /* the thermocouple or its wire is broken */
#define TC_SHORT_GROUND 0x02u /* shorted to ground */
#define TC_SHORT_SUPPLY 0x04u /* shorted to the supply */
#define TC_CONVERTER 0x08u    /* the converter did not answer, or its number is not to be believed */
#define TC_JUNCTION 0x10u     /* the sensor of the reference junction failed */

/* The longest line, 52 characters with CR and LF, and its final NUL. */
#define TC_FRAME_SIZE 53u

struct tc_frame {
    uint8_t channel;     /* 0 to 99; a board with one input sends 0 */
    uint16_t seq;        /* one more than the last frame of this channel, 65535 is followed by 0 */
    uint32_t ms;         /* milliseconds since the board started, 4294967295 is followed by 0 */
    int32_t emf_nv;      /* EMF as measured, nanovolts, reference junction at junction_mc: nothing compensated */
    int32_t junction_mc; /* temperature of the terminals, thousandths of a degree Celsius */
    uint8_t flags;       /* TC_OPEN and so on, added together; 0 when all is well */
};

/* Write `frame` into `line` with CR, LF and a final NUL; gives the number of characters before the NUL.
 *
 * An EMF or a junction temperature outside the format's range is sent as the nearest one inside, with the flag that says
 * not to believe it: a line that the receiver refuses would look like noise, and hide what is wrong.
 */
size_t tc_frame_write(char line[TC_FRAME_SIZE], const struct tc_frame *frame);

/* CRC-16/XMODEM of `count` bytes: polynomial 0x1021, start 0, not reflected, not inverted. "123456789" gives 0x31C3. */
uint16_t tc_frame_crc(const char *bytes, size_t count);

#endif
