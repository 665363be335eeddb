/* What the watch says to a board with a buzzer, and the dead-man's handle: see frame_format.md.
 *
 * C99, no heap, no floating point. Give every byte that comes to tc_buzzer_receive, and ask tc_buzzer_sounds in every
 * turn of the loop whether the buzzer is to be on. It reads no port and no clock and switches no pin; the board's own
 * loop does.
 */
#ifndef TC_COMMAND_H
#define TC_COMMAND_H

#include <stdbool.h>
#include <stdint.h>

/* Patterns: how many strokes, as the bell of the watch. */
#define TC_SILENT 0u
#define TC_LOW 1u    /* one stroke, once */
#define TC_MEDIUM 2u /* two strokes, every 30 s */
#define TC_HIGH 3u   /* three strokes, every 5 s */

/* The longest command, "$HB,65535,60000*0123", without CR and LF. A longer line is none of ours. */
#define TC_COMMAND_SIZE 20u

/* What a heartbeat may ask the board to wait for the next, milliseconds; 0 asks it to wait for none. */
#define TC_LEAST_PATIENCE_MS 500u
#define TC_MOST_PATIENCE_MS 60000u

struct tc_buzzer {
    uint32_t heard_ms;   /* when the last heartbeat came */
    uint32_t pattern_ms; /* when the present pattern began */
    uint16_t patience_ms; /* how long to wait for the next; 0: no heartbeat is waited for */
    uint16_t refused;    /* lines with a '$' that were no command, counted up to 65535 */
    uint8_t pattern;     /* TC_SILENT and so on */
    bool alone;          /* no heartbeat in time: sound by itself */
    bool done;           /* the one stroke of TC_LOW has been given */
    uint8_t length;      /* characters in line; more than fit: TC_COMMAND_SIZE + 1 */
    char line[TC_COMMAND_SIZE];
};

/* Silent, and waiting for nothing: a board on the bench must not sound before a watch has spoken. */
void tc_buzzer_init(struct tc_buzzer *buzzer);

/* Take one byte from the watch at `ms`, the board's milliseconds. Anything that is no command does nothing. */
void tc_buzzer_receive(struct tc_buzzer *buzzer, char byte, uint32_t ms);

/* Whether the buzzer is to be on at `ms`. Ask at least every 100 ms; ms may wrap. */
bool tc_buzzer_sounds(struct tc_buzzer *buzzer, uint32_t ms);

#endif
