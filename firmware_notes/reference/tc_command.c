#include "tc_command.h"

#include <stddef.h>

#include "tc_frame.h"

#define STROKE_MS 200u
#define STROKE_EVERY_MS 350u
#define MEDIUM_EVERY_MS 30000u
#define HIGH_EVERY_MS 5000u
#define ALONE_MS 1000u /* on for so long, off for so long */

static bool is_digit(char letter)
{
    return letter >= '0' && letter <= '9';
}

/* Read a number of one to five digits up to `end`; gives where it ends, NULL when there is none or it is above most. */
static const char *take_number(const char *at, const char *end, uint32_t most, uint32_t *number)
{
    const char *const start = at;

    *number = 0;
    while (at < end && is_digit(*at) && at - start < 5) {
        *number = *number * 10u + (uint32_t)(*at - '0');
        at++;
    }
    return at > start && *number <= most ? at : NULL;
}

static int hex_value(char letter)
{
    if (is_digit(letter))
        return letter - '0';
    if (letter >= 'A' && letter <= 'F')
        return letter - 'A' + 10;
    if (letter >= 'a' && letter <= 'f')
        return letter - 'a' + 10;
    return -1;
}

/* Whether the last five characters are '*' and the checksum of what stands after '$' and before them. */
static bool is_whole(const char *line, size_t length)
{
    uint32_t crc = 0;
    size_t index;

    if (length < 6u || line[length - 5u] != '*')
        return false;
    for (index = length - 4u; index < length; index++) {
        const int value = hex_value(line[index]);

        if (value < 0)
            return false;
        crc = crc << 4 | (uint32_t)value;
    }
    return crc == tc_frame_crc(line + 1, length - 6u);
}

static void set_pattern(struct tc_buzzer *buzzer, uint8_t pattern, uint32_t ms)
{
    if (buzzer->pattern == pattern)
        return; /* said again with every heartbeat: it goes on, and does not begin anew */
    buzzer->pattern = pattern;
    buzzer->pattern_ms = ms;
    buzzer->done = false;
}

/* Obey a whole line; gives false when it is no command. */
static bool obey(struct tc_buzzer *buzzer, uint32_t ms)
{
    const char *const line = buzzer->line;
    const size_t length = buzzer->length;
    const char *end;
    const char *at;
    uint32_t seq;
    uint32_t number;
    bool heartbeat;

    if (length > TC_COMMAND_SIZE || !is_whole(line, length))
        return false;
    end = line + length - 5u;
    if (end - line < 4 || line[3] != ',')
        return false;
    heartbeat = line[1] == 'H' && line[2] == 'B';
    if (!heartbeat && !(line[1] == 'A' && line[2] == 'N'))
        return false;
    at = take_number(line + 4, end, 65535u, &seq);
    if (at == NULL || at == end || *at != ',')
        return false;
    at = take_number(at + 1, end, heartbeat ? TC_MOST_PATIENCE_MS : TC_HIGH, &number);
    if (at != end)
        return false;
    if (!heartbeat) {
        set_pattern(buzzer, (uint8_t)number, ms);
        return true;
    }
    if (number != 0u && number < TC_LEAST_PATIENCE_MS)
        return false;
    buzzer->patience_ms = (uint16_t)number;
    buzzer->heard_ms = ms;
    buzzer->alone = false;
    return true;
}

void tc_buzzer_init(struct tc_buzzer *buzzer)
{
    buzzer->heard_ms = 0;
    buzzer->pattern_ms = 0;
    buzzer->patience_ms = 0;
    buzzer->refused = 0;
    buzzer->pattern = TC_SILENT;
    buzzer->alone = false;
    buzzer->done = false;
    buzzer->length = 0;
}

void tc_buzzer_receive(struct tc_buzzer *buzzer, char byte, uint32_t ms)
{
    if (byte == '$') {
        buzzer->length = 0; /* a new line, whatever became of the one before */
    } else if (byte == '\r' || byte == '\n') {
        if (buzzer->length > 0u && !obey(buzzer, ms) && buzzer->refused < UINT16_MAX)
            buzzer->refused++;
        buzzer->length = 0;
        return;
    } else if (buzzer->length == 0u) {
        return; /* outside a line */
    }
    if (buzzer->length < TC_COMMAND_SIZE)
        buzzer->line[buzzer->length++] = byte;
    else
        buzzer->length = TC_COMMAND_SIZE + 1u;
}

/* Whether one of `strokes` strokes is on, `since_ms` after the first began. */
static bool in_stroke(uint32_t since_ms, uint32_t strokes)
{
    return since_ms / STROKE_EVERY_MS < strokes && since_ms % STROKE_EVERY_MS < STROKE_MS;
}

bool tc_buzzer_sounds(struct tc_buzzer *buzzer, uint32_t ms)
{
    const uint32_t since_ms = ms - buzzer->pattern_ms; /* unsigned: right across the wrap */

    if (buzzer->patience_ms != 0u && !buzzer->alone && ms - buzzer->heard_ms > buzzer->patience_ms)
        buzzer->alone = true; /* kept until a heartbeat comes: the difference itself wraps after 49 days */
    if (buzzer->alone)
        return ms % (2u * ALONE_MS) < ALONE_MS;
    switch (buzzer->pattern) {
    case TC_HIGH:
        return in_stroke(since_ms % HIGH_EVERY_MS, 3u);
    case TC_MEDIUM:
        return in_stroke(since_ms % MEDIUM_EVERY_MS, 2u);
    case TC_LOW:
        if (since_ms >= STROKE_MS)
            buzzer->done = true;
        return !buzzer->done;
    default:
        return false;
    }
}
