/* Drives tc_command.c for the tests, a script on standard input, one step a line:
 *   b <ms> <hex>    these bytes come at ms
 *   s <ms>          does the buzzer sound at ms? prints "1" or "0"
 *   p               prints patience, pattern, refused, alone
 *   i               starts anew
 */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "tc_command.h"

int main(void)
{
    static char step[8192];
    struct tc_buzzer buzzer;

    tc_buzzer_init(&buzzer);
    while (fgets(step, sizeof step, stdin) != NULL) {
        uint32_t ms = 0;
        int at = 0;
        unsigned byte;
        int width;

        if (step[0] == 'i') {
            tc_buzzer_init(&buzzer);
        } else if (step[0] == 'p') {
            printf("%u %u %u %d\n", buzzer.patience_ms, buzzer.pattern, buzzer.refused, (int)buzzer.alone);
        } else if (sscanf(step + 1, "%" SCNu32 "%n", &ms, &at) != 1) {
            return 2;
        } else if (step[0] == 's') {
            printf("%d\n", (int)tc_buzzer_sounds(&buzzer, ms));
        } else {
            const char *rest = step + 1 + at;

            rest += strspn(rest, " ");
            while (sscanf(rest, "%2x%n", &byte, &width) == 1) {
                tc_buzzer_receive(&buzzer, (char)byte, ms);
                rest += width;
            }
        }
    }
    return 0;
}
