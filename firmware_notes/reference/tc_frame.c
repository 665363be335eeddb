#include "tc_frame.h"

#define HIGHEST_CHANNEL 99u
#define HIGHEST_EMF_NV 300000000
#define HIGHEST_JUNCTION_MC 200000
#define LOWEST_JUNCTION_MC (-100000)

static const char HEX[] = "0123456789ABCDEF";

static char *put_unsigned(char *at, uint32_t number)
{
    char digits[10];
    size_t count = 0;

    do {
        digits[count++] = (char)('0' + (char)(number % 10u));
        number /= 10u;
    } while (number != 0u);
    while (count > 0u)
        *at++ = digits[--count];
    return at;
}

static char *put_signed(char *at, int32_t number)
{
    if (number >= 0)
        return put_unsigned(at, (uint32_t)number);
    *at++ = '-';
    return put_unsigned(at, (uint32_t)(-number)); /* clamped before: never the one number that has no positive */
}

static char *put_hex(char *at, uint32_t number, unsigned digits)
{
    while (digits-- > 0u)
        *at++ = HEX[(number >> (4u * digits)) & 0xFu];
    return at;
}

static int32_t within(int32_t lowest, int32_t number, int32_t highest)
{
    if (number < lowest)
        return lowest;
    return number > highest ? highest : number;
}

uint16_t tc_frame_crc(const char *bytes, size_t count)
{
    uint16_t crc = 0;
    size_t index;
    unsigned bit;

    for (index = 0; index < count; index++) {
        crc = (uint16_t)(crc ^ (uint16_t)((uint16_t)(unsigned char)bytes[index] << 8));
        for (bit = 0; bit < 8u; bit++)
            crc = (uint16_t)((crc & 0x8000u) != 0u ? ((uint32_t)crc << 1) ^ 0x1021u : (uint32_t)crc << 1);
    }
    return crc;
}

size_t tc_frame_write(char line[TC_FRAME_SIZE], const struct tc_frame *frame)
{
    const int32_t emf_nv = within(-HIGHEST_EMF_NV, frame->emf_nv, HIGHEST_EMF_NV);
    const int32_t junction_mc = within(LOWEST_JUNCTION_MC, frame->junction_mc, HIGHEST_JUNCTION_MC);
    uint8_t flags = frame->flags;
    char *at = line;

    if (emf_nv != frame->emf_nv)
        flags = (uint8_t)(flags | TC_CONVERTER);
    if (junction_mc != frame->junction_mc)
        flags = (uint8_t)(flags | TC_JUNCTION);

    *at++ = '$';
    *at++ = 'T';
    *at++ = 'C';
    *at++ = ',';
    at = put_unsigned(at, frame->channel > HIGHEST_CHANNEL ? HIGHEST_CHANNEL : frame->channel);
    *at++ = ',';
    at = put_unsigned(at, frame->seq);
    *at++ = ',';
    at = put_unsigned(at, frame->ms);
    *at++ = ',';
    at = put_signed(at, emf_nv);
    *at++ = ',';
    at = put_signed(at, junction_mc);
    *at++ = ',';
    at = put_hex(at, flags, 2);
    {
        const uint16_t crc = tc_frame_crc(line + 1, (size_t)(at - line) - 1u);
        *at++ = '*';
        at = put_hex(at, crc, 4);
    }
    *at++ = '\r';
    *at++ = '\n';
    *at = '\0';
    return (size_t)(at - line);
}
