/* Throws bytes at tc_command.c and numbers at tc_frame.c, built with sanitizers: <bytes> <seed>.
 *
 * Half of the lines are commands, most of them with one byte spoilt; the rest is noise. What must hold after every byte
 * stands in `see`. Prints how many bytes went in and how many commands were obeyed.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tc_command.h"
#include "tc_frame.h"

static uint32_t state;

static uint32_t chance(uint32_t below)
{
    state ^= state << 13;
    state ^= state >> 17;
    state ^= state << 5;
    return state % below;
}

static size_t make_line(char *line, size_t size)
{
    const bool heartbeat = chance(2) == 0u;
    int length = snprintf(line, size, "$%s,%u,%u", heartbeat ? "HB" : "AN", (unsigned)chance(65536),
                          (unsigned)(heartbeat ? chance(61000) : chance(5)));

    length += snprintf(line + length, size - (size_t)length, "*%04X\r\n",
                       (unsigned)tc_frame_crc(line + 1, (size_t)length - 1u));
    if (chance(4) != 0u)
        line[chance((uint32_t)length)] = (char)chance(256);
    return (size_t)length;
}

static void see(const struct tc_buzzer *buzzer)
{
    const bool patient = buzzer->patience_ms == 0u
        || (buzzer->patience_ms >= TC_LEAST_PATIENCE_MS && buzzer->patience_ms <= TC_MOST_PATIENCE_MS);

    if (buzzer->length > TC_COMMAND_SIZE + 1u || buzzer->pattern > TC_HIGH || !patient)
        abort();
}

static void fuzz_encoder(void)
{
    char *const line = malloc(TC_FRAME_SIZE); /* on the heap, where a byte too far is seen */
    struct tc_frame frame;

    if (line == NULL)
        abort();
    frame.channel = (uint8_t)chance(256);
    frame.seq = (uint16_t)chance(65536);
    frame.ms = chance(UINT32_MAX);
    frame.emf_nv = (int32_t)(chance(UINT32_MAX) - 0x80000000u);
    frame.junction_mc = (int32_t)(chance(UINT32_MAX) - 0x80000000u);
    frame.flags = (uint8_t)chance(256);
    if (tc_frame_write(line, &frame) != strlen(line))
        abort();
    free(line);
}

int main(int count, char **words)
{
    const unsigned long bytes = count > 1 ? strtoul(words[1], NULL, 10) : 200000ul;
    struct tc_buzzer buzzer;
    unsigned long sent = 0;
    unsigned long obeyed = 0;
    uint32_t ms = 0xFFFFF000u; /* across the wrap soon */

    state = count > 2 ? (uint32_t)strtoul(words[2], NULL, 10) : 1u;
    state |= 1u;
    tc_buzzer_init(&buzzer);
    while (sent < bytes) {
        char line[64];
        size_t length = sizeof line;
        size_t index;

        if (chance(2) == 0u)
            length = make_line(line, sizeof line);
        else
            for (index = 0; index < length; index++)
                line[index] = (char)chance(256);
        for (index = 0; index < length; index++) {
            const uint32_t before_ms = buzzer.heard_ms;

            tc_buzzer_receive(&buzzer, line[index], ms);
            see(&buzzer);
            obeyed += buzzer.heard_ms != before_ms;
            ms += chance(40);
            (void)tc_buzzer_sounds(&buzzer, ms);
        }
        sent += length;
        fuzz_encoder();
    }
    printf("%lu bytes, %lu heartbeats obeyed, %u lines refused\n", sent, obeyed, buzzer.refused);
    return obeyed > bytes / 2000ul ? 0 : 1;
}
