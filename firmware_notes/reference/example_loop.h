/* The six functions that a board has to give to example_loop.c, and the two it gets. */
#ifndef EXAMPLE_LOOP_H
#define EXAMPLE_LOOP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* To be written for the microcontroller. */
uint32_t board_ms(void);                                     /* milliseconds since the start; wraps */
bool board_read_emf(int32_t *emf_nv, uint8_t *flags);        /* latest conversion, nV; false: no answer */
bool board_read_junction(int32_t *junction_mc);              /* terminals, thousandths of a °C; false: no answer */
void board_send(const char *bytes, size_t count);            /* put bytes on the serial line */
bool board_receive(char *byte);                              /* a byte that has come; false: none, at once */
void board_buzz(bool on);                                    /* switch the buzzer */

/* Ready to be called. */
void board_setup(void);
void board_turn(void);

#endif
