/* example_loop.c on this computer: the serial line is standard input and output, the buzzer a line on standard error.
 *
 * The probe warms by a degree a second; the argument is for how many milliseconds to run.
 */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

#include "example_loop.h"

static bool sounding;

uint32_t board_ms(void)
{
    struct timespec now;

    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint32_t)((uint64_t)now.tv_sec * 1000u + (uint64_t)now.tv_nsec / 1000000u);
}

bool board_read_emf(int32_t *emf_nv, uint8_t *flags)
{
    (void)flags;
    *emf_nv = (int32_t)(board_ms() % 1000000u) * 40;
    return true;
}

bool board_read_junction(int32_t *junction_mc)
{
    *junction_mc = 23000;
    return true;
}

void board_send(const char *bytes, size_t count)
{
    if (write(STDOUT_FILENO, bytes, count) < 0 && errno != EAGAIN)
        exit(0); /* nobody is at the other end any more */
}

bool board_receive(char *byte)
{
    return read(STDIN_FILENO, byte, 1) == 1;
}

void board_buzz(bool on)
{
    if (on != sounding) {
        sounding = on;
        fprintf(stderr, "%s\n", on ? "on" : "off");
    }
}

int main(int count, char **words)
{
    const uint32_t run_ms = count > 1 ? (uint32_t)strtoul(words[1], NULL, 10) : 10000u;
    const uint32_t began_ms = board_ms();
    const struct timespec turn = {0, 5000000};

    fcntl(STDIN_FILENO, F_SETFL, fcntl(STDIN_FILENO, F_GETFL) | O_NONBLOCK);
    board_setup();
    while (board_ms() - began_ms < run_ms) {
        board_turn();
        nanosleep(&turn, NULL);
    }
    return 0;
}
