/* A whole board: measures ten times a second, sends frames, sounds its buzzer. Portable; give it the six functions that
 * are declared below for your microcontroller, and call board_setup once and board_turn for ever.
 *
 * A turn takes no longer than sending a line; nothing waits for a conversion to end or for a byte to come.
 */
#include "example_loop.h"

#include "tc_command.h"
#include "tc_frame.h"

#define INTERVAL_MS 100u

static struct tc_frame frame;
static struct tc_buzzer buzzer;
static char line[TC_FRAME_SIZE];
static uint32_t due_ms;

void board_setup(void)
{
    tc_buzzer_init(&buzzer);
    frame.channel = 0;
    frame.seq = 0;
    due_ms = board_ms();
}

static void send_reading(uint32_t ms)
{
    frame.ms = ms;
    frame.flags = 0;
    frame.emf_nv = 0;
    frame.junction_mc = 0;
    /* A converter that does not answer is told by its flag, and its number is 0: never the last good one again. */
    if (!board_read_emf(&frame.emf_nv, &frame.flags)) {
        frame.emf_nv = 0;
        frame.flags = (uint8_t)(frame.flags | TC_CONVERTER);
    }
    if (!board_read_junction(&frame.junction_mc)) {
        frame.junction_mc = 0;
        frame.flags = (uint8_t)(frame.flags | TC_JUNCTION);
    }
    board_send(line, tc_frame_write(line, &frame));
    frame.seq++; /* 65535 is followed by 0 by itself */
}

void board_turn(void)
{
    const uint32_t ms = board_ms();
    char byte;

    while (board_receive(&byte))
        tc_buzzer_receive(&buzzer, byte, ms);
    board_buzz(tc_buzzer_sounds(&buzzer, ms));
    /* By the difference, so that the wrap of ms after 49 days is no gap; by the grid, so that the rate does not drift. */
    if (ms - due_ms < UINT32_MAX / 2u) {
        due_ms += INTERVAL_MS;
        if (ms - due_ms < UINT32_MAX / 2u)
            due_ms = ms + INTERVAL_MS; /* a turn took longer than an interval: what was missed is not made up */
        send_reading(ms);
    }
}
